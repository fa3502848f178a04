# Completion of sealworthy for fish.
function __sealworthy_words
    set -l before (commandline -opc)
    set -l now (string replace -r '^["\']' '' -- (commandline -ct)) # a quote that is open
    test -n "$now"; or set now ""
    set -l found (sealworthy completion --words -- $before[2..-1] $now 2>/dev/null)
    if set -q found[1]
        printf '%s\n' $found
    else
        __fish_complete_path $now
    end
end
complete -c sealworthy -f -a '(__sealworthy_words)'
