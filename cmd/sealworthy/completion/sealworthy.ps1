# Completion of sealworthy for PowerShell.
Register-ArgumentCompleter -Native -CommandName sealworthy -ScriptBlock {
    param($wordToComplete, $commandAst, $cursorPosition)
    $typed = @($commandAst.CommandElements | Select-Object -Skip 1 | ForEach-Object { $_.ToString().Trim("'", '"') })
    # An empty word gets lost on its way to a program, so that a new one begins is said.
    $new = @(if ($wordToComplete -eq '') { '--new-word' }) # a list, an empty one too: what is none would be splatted
    sealworthy completion --words @new '--' @typed 2>$null | ForEach-Object {
        $text = if ($_ -match '\s') { "'" + $_.Replace("'", "''") + "'" } else { $_ }
        [System.Management.Automation.CompletionResult]::new($text, $_, 'ParameterValue', $_)
    }
}
