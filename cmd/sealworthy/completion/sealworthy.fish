# Completion of sealworthy for fish.
function __sealworthy_words
    set -l before (commandline -opc)
    set -l now (commandline -ct)
    test -n "$now"; or set now ""
    sealworthy completion --words -- $before[2..-1] $now 2>/dev/null
end
complete -c sealworthy -a '(__sealworthy_words)'
