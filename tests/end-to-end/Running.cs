using System.Collections.Concurrent;
using System.Diagnostics;
using System.Text;
using Cardassay.Fixtures;

namespace Cardassay.EndToEnd.Tests;

/// <summary>A program under test, as a process of its own; killed when the test ends.</summary>
internal sealed class Running : IDisposable
{
    private static readonly TimeSpan Limit = TimeSpan.FromSeconds(120);

    private readonly Process _process;
    private readonly StringBuilder _output = new();
    private readonly StringBuilder _errors = new();
    private readonly BlockingCollection<string> _lines = [];
    private bool _disposed;

    private Running(string program, IEnumerable<string> arguments)
    {
        var start = new ProcessStartInfo(program)
        {
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            RedirectStandardInput = true,
            UseShellExecute = false,
        };
        foreach (string argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        _process = new Process { StartInfo = start };
        _process.OutputDataReceived += (_, e) => Add(_output, e.Data);
        _process.ErrorDataReceived += (_, e) => Add(_errors, e.Data);
        _process.Start();
        _process.BeginOutputReadLine();
        _process.BeginErrorReadLine();
    }

    internal static Running Start(string program, params string[] arguments) => new(program, arguments);

    /// <summary>Runs a program to its end.</summary>
    internal static Finished Run(string program, params string[] arguments)
    {
        using var running = new Running(program, arguments);
        return running.Wait();
    }

    /// <summary>Waits for a line, on either stream, that contains the text, and returns it.</summary>
    internal string WaitForLine(string text)
    {
        using var limit = new CancellationTokenSource(Limit);
        try
        {
            foreach (string line in _lines.GetConsumingEnumerable(limit.Token))
            {
                if (line.Contains(text, StringComparison.Ordinal))
                {
                    return line;
                }
            }
        }
        catch (OperationCanceledException)
        {
            // Reported below.
        }

        throw new InvalidOperationException($"No line with \"{text}\".\n--- output\n{_output}\n--- errors\n{_errors}");
    }

    /// <summary>SIGKILL: no chance to tidy up.</summary>
    internal void Kill()
    {
        _process.Kill();
        _process.WaitForExit();
    }

    /// <summary>SIGKILL, without waiting for the end.</summary>
    internal void Signal() => _process.Kill();

    /// <summary>SIGTERM or another signal that can be caught, then the end.</summary>
    internal Finished Stop(string name = "TERM")
    {
        using Process signal = Process.Start("kill", ["-" + name, _process.Id.ToString(System.Globalization.CultureInfo.InvariantCulture)]);
        signal.WaitForExit();
        return Wait();
    }

    /// <summary>Most memory the process has taken so far, bytes; 0 once it ended.</summary>
    internal long MostBytes() => ProcessMemory.Most(_process.Id) ?? 0;

    internal bool HasEnded => _process.HasExited;

    internal Finished Wait()
    {
        if (!_process.WaitForExit(Limit))
        {
            Kill();
            throw new InvalidOperationException($"Still running after {Limit.TotalSeconds} s.\n--- output\n{_output}\n--- errors\n{_errors}");
        }

        _process.WaitForExit();
        lock (_output)
        {
            return new Finished(_process.ExitCode, _output.ToString(), _errors.ToString());
        }
    }

    public void Dispose()
    {
        if (_disposed)
        {
            return;
        }

        _disposed = true;
        if (!_process.HasExited)
        {
            Kill();
        }

        _process.Dispose();
        _lines.Dispose();
    }

    private void Add(StringBuilder to, string? line)
    {
        if (line is null)
        {
            return;
        }

        lock (_output)
        {
            to.AppendLine(line);
        }

        if (!_lines.IsAddingCompleted)
        {
            _lines.Add(line);
        }
    }
}
