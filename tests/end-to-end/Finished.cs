namespace Cardassay.EndToEnd.Tests;

/// <summary>A program that ended.</summary>
internal sealed record Finished(int ExitCode, string Output, string Errors)
{
    /// <summary>Fails the test with everything the program said when the exit code is another.</summary>
    internal Finished Expect(int exitCode)
    {
        Assert.True(ExitCode == exitCode, $"exit {ExitCode} instead of {exitCode}\n--- output\n{Output}\n--- errors\n{Errors}");
        return this;
    }
}
