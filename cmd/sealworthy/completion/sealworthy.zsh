#compdef sealworthy
# Completion of sealworthy for zsh.
_sealworthy() {
	local -a found
	found=("${(@f)$(sealworthy completion --words -- "${(@Q)words[2,CURRENT]}" 2>/dev/null)}")
	found=(${found:#})
	if (( $#found )); then
		compadd -a found
	else
		_files
	fi
}
compdef _sealworthy sealworthy
