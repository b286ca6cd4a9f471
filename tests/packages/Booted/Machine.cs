using Cardassay.EmulatedBoard.Harness;
using Cardassay.Fixtures;
using Xunit.Abstractions;

namespace Cardassay.Packages.Tests.Booted;

/// <summary>One booted machine and a person who has logged in on it, who may use sudo and is nobody else.</summary>
internal sealed class Machine : IAsyncDisposable
{
    private readonly ITestOutputHelper _output;
    private Shell _shell;

    internal Machine(string name, string firstProcess, string hostProcess, string address, ITestOutputHelper output)
    {
        Name = name;
        FirstProcess = firstProcess;
        HostProcess = hostProcess;
        Address = address;
        _output = output;
        _shell = LogIn();
    }

    internal string Name { get; }

    /// <summary>Number of its first process here.</summary>
    internal string FirstProcess { get; }

    /// <summary>Number of the process that holds the machine.</summary>
    internal string HostProcess { get; }

    internal string Address { get; }

    /// <summary>Types a command and waits for its end, whatever that is.</summary>
    internal Task<Typed> TypeAsync(string command) => _shell.TypeAsync(command);

    /// <summary>The same for a command that must succeed.</summary>
    internal Task<string> SucceedAsync(string command) => _shell.SucceedAsync(command);

    /// <summary>Types a command again and again until it prints what is wanted.</summary>
    internal async Task<string> AwaitAsync(string command, Func<string, bool> holds)
    {
        long began = TimeProvider.System.GetTimestamp();
        while (true)
        {
            Typed typed = await TypeAsync(command);
            if (holds(typed.Text))
            {
                return typed.Text;
            }

            Assert.True(TimeProvider.System.GetElapsedTime(began) < Hang.Limit, $"{Name}: {command} never printed what was awaited, at last:\n{typed.Text}");
            await Task.Delay(500);
        }
    }

    /// <summary>Logs out and in again: groups count from the next login on.</summary>
    internal async Task LogInAgainAsync()
    {
        await _shell.DisposeAsync();
        _shell = LogIn();
    }

    public ValueTask DisposeAsync() => _shell.DisposeAsync();

    private Shell LogIn() => Shell.Start(
        line => _output.WriteLine($"{Name}{line}"), ["nsenter", "--target", FirstProcess, "--all", "/bin/su", "--login", Machines.Person]);
}
