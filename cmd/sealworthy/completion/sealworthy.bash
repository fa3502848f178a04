# Completion of sealworthy for bash, 3.2 and later.
_sealworthy() {
	local word typed=()
	for word in "${COMP_WORDS[@]:1:COMP_CWORD}"; do
		word=${word#[\"\']}
		word=${word%[\"\']}
		typed+=("${word//\\/}")
	done
	COMPREPLY=()
	while IFS= read -r word; do
		COMPREPLY+=("$(printf '%q' "$word")")
	done < <(sealworthy completion --words -- "${typed[@]}" 2>/dev/null)
}
complete -o default -F _sealworthy sealworthy
