namespace Cardassay.Pages;

/// <summary>
/// Shell completion. The program itself is asked what can stand at the cursor: the `[suggest:POSITION]` directive of its
/// command-line library, so that nothing here can be out of date.
/// </summary>
internal static class Completion
{
    internal static string Bash(DescribedProgram program) => $$"""
        # bash completion of {{program.Name}}
        _{{Function(program)}}() {
            local line=${COMP_LINE:0:COMP_POINT} current=${COMP_WORDS[COMP_CWORD]} IFS=$'\n'
            line="{{program.Name}} ${line#*[[:space:]]}"
            COMPREPLY=($(compgen -W "$({{program.Name}} "[suggest:${#line}]" "$line" 2>/dev/null)" -- "$current"))
            [ ${#COMPREPLY[@]} -gt 0 ] || COMPREPLY=($(compgen -f -- "$current"))
        }
        complete -o filenames -F _{{Function(program)}} {{program.Name}}

        """;

    internal static string Zsh(DescribedProgram program) => $$"""
        #compdef {{program.Name}}
        _{{Function(program)}}() {
            local -a found
            local line="{{program.Name}} ${LBUFFER#*[[:space:]]}"
            found=(${(f)"$({{program.Name}} "[suggest:${#line}]" "$line" 2>/dev/null)"})
            (( ${#found} )) && compadd -a found || _files
        }
        _{{Function(program)}} "$@"

        """;

    internal static string Fish(DescribedProgram program) => $$"""
        # fish completion of {{program.Name}}
        function __{{Function(program)}}
            set -l line (commandline -cp)
            {{program.Name}} "[suggest:"(string length -- "$line")"]" "$line" 2>/dev/null
        end
        complete -c {{program.Name}} -a '(__{{Function(program)}})'

        """;

    private static string Function(DescribedProgram program) => program.Name.Replace('-', '_');
}
