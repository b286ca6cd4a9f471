using System.Diagnostics;

namespace Cardassay.Agent.Tests.Sysfs;

/// <summary>Runs general tools (losetup, mount, findmnt) that tests use as outside witnesses.</summary>
internal static class Shell
{
    /// <summary>Runs a command and returns what it printed; throws when it fails.</summary>
    public static string Run(string file, params string[] arguments)
    {
        (int code, string output, string error) = Try(file, arguments);
        return code == 0 ? output.Trim() : throw new InvalidOperationException($"{file} {string.Join(' ', arguments)}: {error}");
    }

    /// <summary>Runs a command; -1 when there is no such program.</summary>
    public static (int Code, string Output, string Error) Try(string file, params string[] arguments)
    {
        try
        {
            using Process process = Process.Start(new ProcessStartInfo(file, arguments) { RedirectStandardOutput = true, RedirectStandardError = true })!;
            string output = process.StandardOutput.ReadToEnd();
            string error = process.StandardError.ReadToEnd();
            process.WaitForExit();
            return (process.ExitCode, output, error);
        }
        catch (System.ComponentModel.Win32Exception e)
        {
            return (-1, "", e.Message);
        }
    }
}
