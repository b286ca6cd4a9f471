using System.ComponentModel;
using System.Diagnostics;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>Runs a command on the host to its end.</summary>
public static class HostCommand
{
    /// <summary>What it printed on standard output.</summary>
    /// <exception cref="InvalidOperationException">It cannot be started, fails, or takes longer than the limit; the message holds both its outputs.</exception>
    public static Task<string> RunAsync(string file, params IEnumerable<string> arguments) => TypeAsync(null, file, arguments);

    /// <summary>The same with what a person types into it.</summary>
    /// <exception cref="InvalidOperationException">As above.</exception>
    public static async Task<string> TypeAsync(string? typed, string file, params IEnumerable<string> arguments)
    {
        ProcessStartInfo start = new(file, arguments) { RedirectStandardOutput = true, RedirectStandardError = true, RedirectStandardInput = typed is not null };
        start.Environment["PATH"] = $"{Environment.GetEnvironmentVariable("PATH")}:/usr/sbin:/sbin";
        string shown = $"{file} {string.Join(' ', arguments)}";
        try
        {
            using Process process = Process.Start(start)!;
            using CancellationTokenSource late = new(Hang.Limit);
            Task<string> output = process.StandardOutput.ReadToEndAsync(late.Token);
            Task<string> errors = process.StandardError.ReadToEndAsync(late.Token);
            try
            {
                if (typed is not null)
                {
                    await process.StandardInput.WriteAsync(typed);
                    process.StandardInput.Close();
                }

                await process.WaitForExitAsync(late.Token);
                string printed = await output;
                return process.ExitCode == 0
                    ? printed
                    : throw new InvalidOperationException($"{shown} ended with {process.ExitCode}:\n{printed}{await errors}");
            }
            catch (OperationCanceledException)
            {
                process.Kill(entireProcessTree: true);
                throw new InvalidOperationException($"{shown} took longer than {Hang.Limit}");
            }
        }
        catch (Win32Exception e)
        {
            throw new InvalidOperationException($"{shown} cannot be started: {e.Message}", e);
        }
    }
}
