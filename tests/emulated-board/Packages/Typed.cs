namespace Cardassay.EmulatedBoard.Packages;

/// <summary>A command line that was typed on a board, to its end.</summary>
/// <param name="Command">The command line.</param>
/// <param name="ExitCode">How it ended.</param>
/// <param name="Printed">Everything it printed.</param>
internal sealed record Typed(string Command, int ExitCode, string Printed)
{
    /// <summary>What it printed, without the last line feed.</summary>
    internal string Text => Printed.TrimEnd('\n');

    /// <summary>Fails the test when it ended otherwise.</summary>
    internal Typed Expect(int exitCode)
    {
        Assert.True(ExitCode == exitCode, $"exit {ExitCode} instead of {exitCode}: {Command}\n{Printed}");
        return this;
    }
}
