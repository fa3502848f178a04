# Completion of sealworthy for bash, 3.2 and later.
_sealworthy() {
	local word typed=() quoted=
	for word in "${COMP_WORDS[@]:1:COMP_CWORD}"; do
		case $word in [\"\']*) quoted=yes ;; *) quoted= ;; esac
		word=${word#[\"\']}
		word=${word%[\"\']}
		typed+=("${word//\\/}")
	done
	COMPREPLY=()
	while IFS= read -r word; do
		[ -n "$quoted" ] || word=$(printf '%q' "$word") # in quotes a backslash would stay
		COMPREPLY+=("$word")
	done < <(sealworthy completion --words -- "${typed[@]}" 2>/dev/null)
}
complete -o default -F _sealworthy sealworthy
