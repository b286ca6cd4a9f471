using System.Globalization;
using System.Text;
using System.Threading.Channels;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>A script of the `scenarios` folder at work in a guest.</summary>
public sealed class Scenario
{

    private readonly Guest guest;
    private readonly ChannelReader<string> lines;
    private readonly string name;
    private readonly string markPrefix;
    private readonly string endPrefix;
    private readonly StringBuilder printed = new();

    internal Scenario(Guest guest, ChannelReader<string> lines, string name, int number)
    {
        this.guest = guest;
        this.lines = lines;
        this.name = name;
        markPrefix = string.Create(CultureInfo.InvariantCulture, $"@mark {number} ");
        endPrefix = string.Create(CultureInfo.InvariantCulture, $"@end {number} ");
    }

    /// <summary>What it has printed so far, without marks.</summary>
    public string Printed => printed.ToString();

    /// <summary>Waits until the scenario says that it has come to a point.</summary>
    /// <exception cref="GuestException">It ended before, or the limit passed.</exception>
    public Task ReachAsync(string mark) => MarkAsync(mark, l => l == markPrefix + mark);

    /// <summary>Waits until the scenario says something that begins so.</summary>
    /// <returns>What follows that word and a space.</returns>
    /// <exception cref="GuestException">It ended before, or the limit passed.</exception>
    public async Task<string> SaysAsync(string word)
    {
        string prefix = $"{markPrefix}{word} ";
        return (await MarkAsync(word, l => l.StartsWith(prefix, StringComparison.Ordinal)))[prefix.Length..];
    }

    /// <summary>Waits for its end.</summary>
    /// <returns>The exit code.</returns>
    /// <exception cref="GuestException">The limit passed, or the guest ended.</exception>
    public async Task<int> ExitAsync()
    {
        string line = await NextAsync("end", l => l.StartsWith(endPrefix, StringComparison.Ordinal));
        return int.Parse(line.AsSpan(endPrefix.Length), CultureInfo.InvariantCulture);
    }

    /// <summary>Waits for its end, which must be a success.</summary>
    /// <returns>What it printed.</returns>
    /// <exception cref="GuestException">It failed, the limit passed, or the guest ended.</exception>
    public async Task<string> SucceedAsync()
    {
        int code = await ExitAsync();
        return code == 0 ? Printed : throw guest.Failure($"scenario {name} ended with {code}", Printed);
    }

    /// <summary>After the power was cut: how often a mark had still come through that nobody waited for.</summary>
    public async Task<int> CountRestAsync(string mark)
    {
        int count = 0;
        await foreach (string line in lines.ReadAllAsync())
        {
            count += line == markPrefix + mark ? 1 : 0;
        }

        return count;
    }

    private async Task<string> MarkAsync(string mark, Func<string, bool> isMark)
    {
        string line = await NextAsync($"mark '{mark}'", l => isMark(l) || l.StartsWith(endPrefix, StringComparison.Ordinal));
        return isMark(line) ? line : throw guest.Failure($"scenario {name} ended before its mark '{mark}'", Printed);
    }

    private async Task<string> NextAsync(string awaited, Func<string, bool> isAwaited)
    {
        using CancellationTokenSource late = new(Hang.Limit);
        try
        {
            while (true)
            {
                string line = await lines.ReadAsync(late.Token);
                if (isAwaited(line))
                {
                    return line;
                }

                if (!line.StartsWith(markPrefix, StringComparison.Ordinal))
                {
                    printed.Append(line).Append('\n');
                }
            }
        }
        catch (OperationCanceledException)
        {
            throw guest.Failure($"scenario {name}: no {awaited} within {Hang.Limit}", Printed);
        }
        catch (ChannelClosedException)
        {
            throw guest.Failure($"scenario {name}: the guest ended before its {awaited}", Printed);
        }
    }
}
