using System.Globalization;
using System.Text;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.Fixtures;
using Xunit.Abstractions;

namespace Cardassay.EmulatedBoard.Packages;

/// <summary>A board with a distribution on its disk, systemd as the first process, and a person at its console who is root.</summary>
internal sealed class SystemBoard(Guest guest, ITestOutputHelper output)
{

    /// <summary>Types a command line and waits for its end, whatever that is. Everything goes to the test's output.</summary>
    internal async Task<Typed> TypeAsync(string command)
    {
        long began = TimeProvider.System.GetTimestamp();
        Scenario scenario = await guest.BeginAsync("typed", Convert.ToBase64String(Encoding.UTF8.GetBytes(command)));
        int exitCode = await scenario.ExitAsync();
        output.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"# {command}\n{scenario.Printed}= {exitCode} after {TimeProvider.System.GetElapsedTime(began).TotalSeconds:0.0} s"));
        return new Typed(command, exitCode, scenario.Printed);
    }

    /// <summary>The same for a command that must succeed.</summary>
    /// <returns>What it printed, without the last line feed.</returns>
    internal async Task<string> SucceedAsync(string command) => (await TypeAsync(command)).Expect(0).Text;

    /// <summary>Types a command again and again until it prints what is wanted.</summary>
    internal async Task AwaitAsync(string command, Func<string, bool> holds)
    {
        using CancellationTokenSource late = new(Hang.Limit);
        while (true)
        {
            Typed typed = await TypeAsync(command);
            if (holds(typed.Text))
            {
                return;
            }

            Assert.False(late.IsCancellationRequested, $"{command} never printed what was awaited, at last:\n{typed.Text}");
            await Task.Delay(500);
        }
    }

    /// <summary>Properties of a unit, as `systemctl show` prints them.</summary>
    internal async Task<IReadOnlyDictionary<string, string>> ShowAsync(string unit, params string[] properties) =>
        (await SucceedAsync($"systemctl show {unit} -p {string.Join(',', properties)}")).Split('\n')
            .Select(line => line.Split('=', 2))
            .ToDictionary(pair => pair[0], pair => pair[1]);
}
