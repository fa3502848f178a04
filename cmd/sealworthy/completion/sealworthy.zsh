#compdef sealworthy
# Completion of sealworthy for zsh.
_sealworthy() {
	local -a typed found
	typed=("${(@Q)words[2,CURRENT]}")
	typed[-1]=${typed[-1]#[\"\']} # a quote that is open
	found=("${(@f)$(sealworthy completion --words -- "${typed[@]}" 2>/dev/null)}")
	found=(${found:#})
	if (( $#found )); then
		compadd -a found
	else
		_files
	fi
}
compdef _sealworthy sealworthy
