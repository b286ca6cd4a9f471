using System.Diagnostics;
using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.Packages.Tests;

/// <summary>A program that ran to its end.</summary>
/// <param name="ExitCode">How it ended.</param>
/// <param name="Output">Its standard output.</param>
/// <param name="Errors">Its standard error.</param>
internal sealed record Ran(int ExitCode, string Output, string Errors)
{
    /// <summary>Runs a program.</summary>
    internal static async Task<Ran> ItAsync(string program, params IEnumerable<string> arguments)
    {
        var start = new ProcessStartInfo(program, arguments) { RedirectStandardOutput = true, RedirectStandardError = true, RedirectStandardInput = true };
        using Process process = Process.Start(start)!;
        process.StandardInput.Close();
        using var late = new CancellationTokenSource(Hang.Limit);
        Task<string> output = process.StandardOutput.ReadToEndAsync(late.Token);
        Task<string> errors = process.StandardError.ReadToEndAsync(late.Token);
        try
        {
            await process.WaitForExitAsync(late.Token);
            return new Ran(process.ExitCode, await output, await errors);
        }
        catch (OperationCanceledException)
        {
            process.Kill(entireProcessTree: true);
            throw new InvalidOperationException($"{program} {string.Join(' ', arguments)} took longer than {Hang.Limit}");
        }
    }

    /// <summary>Fails the test, with everything the program said, when it ended otherwise.</summary>
    internal Ran Expect(int exitCode)
    {
        Assert.True(ExitCode == exitCode, $"exit {ExitCode} instead of {exitCode}\n--- output\n{Output}\n--- errors\n{Errors}");
        return this;
    }

    /// <summary>Everything it said, on one line each.</summary>
    internal string Said => Output + Errors;
}
