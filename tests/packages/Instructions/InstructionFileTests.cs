using Cardassay.Fixtures;

namespace Cardassay.Packages.Tests.Instructions;

/// <summary>Which commands a document has; blocks as CommonMark 0.31, 4.5 defines them.</summary>
public sealed class InstructionFileTests
{
    private const string Document = """
        # Title
        Text `sh` in a line.
        ```sh
        first --a   # why
        second \
            goes on

        third
        ```
        ## Part
            indented: no command
        ```json
        { "no": "command" }
        ```
        ```sh bench later
        fourth
        ```
        """;

    [Fact]
    public void Parse_OfADocument_GivesTheCommandsInOrderWithHeadingAndPlace() => Assert.Equal(
        [
            new Instruction(4, "Title", "", "first --a   # why"),
            new Instruction(5, "Title", "", "second \\\n    goes on"),
            new Instruction(8, "Title", "", "third"),
            new Instruction(16, "Part", "bench later", "fourth"),
        ],
        InstructionFile.Parse(Document));

    [Theory]
    [InlineData("# No command\n")]
    [InlineData("```sh\nopen\n")]
    [InlineData("```sh\nends with \\\n```\n")]
    public void Parse_OfADocumentThatCannotBeMeant_Refuses(string text) => Assert.Throws<FormatException>(() => InstructionFile.Parse(text));

    [Fact]
    public async Task Shell_KeepsWhatACommandLeaves_AndTellsItsEnd()
    {
        await using Shell shell = Shell.Start(_ => { }, ["bash", "--norc"]);
        await shell.SucceedAsync("cd /usr; place=\"a 'quoted' one\"");
        Assert.Equal("/usr a 'quoted' one", await shell.SucceedAsync("echo \"$PWD $place\""));
        Assert.Equal(new Typed("printf one; echo two >&2; (exit 3)", 3, "onetwo\n"), await shell.TypeAsync("printf one; echo two >&2; (exit 3)"));
        Assert.Equal("", await shell.SucceedAsync("cat"));
        Assert.Equal(2, (await shell.TypeAsync("if")).ExitCode); // not closed: the command's fault, not the shell's end
    }
}
