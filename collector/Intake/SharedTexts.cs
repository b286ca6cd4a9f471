using System.Text;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Keeps once what is the same in many records: a laboratory of ten years has hundreds of thousands of runs in memory. Not safe for
/// several threads.
/// </summary>
internal sealed class SharedTexts
{
    private readonly HashSet<string> _texts = new(StringComparer.Ordinal);
    private readonly Dictionary<string, IReadOnlyDictionary<string, Reading<string>>> _files = new(StringComparer.Ordinal);

    /// <summary>The one instance of a text.</summary>
    internal string Text(string text)
    {
        if (_texts.TryGetValue(text, out string? known))
        {
            return known;
        }

        _texts.Add(text);
        return text;
    }

    /// <summary>The record with its texts kept once: runs of one board and one plan share nearly all of them.</summary>
    internal RunOpened Keep(RunOpened opened) => opened with
    {
        TargetPath = Text(opened.TargetPath),
        DiskName = TextOrNull(opened.DiskName),
        FileSystem = TextOrNull(opened.FileSystem),
        MountOptions = TextOrNull(opened.MountOptions),
        PlanName = Text(opened.PlanName),
        PlanVersion = Text(opened.PlanVersion),
        PlanText = Text(opened.PlanText),
        HostName = Text(opened.HostName),
        BoardModel = TextOrNull(opened.BoardModel),
        KernelRelease = Text(opened.KernelRelease),
        BootId = Text(opened.BootId),
        AgentVersion = Text(opened.AgentVersion),
        Tag = TextOrNull(opened.Tag),
    };

    /// <summary>The record with its register files kept once: a card says the same of itself in every run.</summary>
    internal CardIdentified Keep(CardIdentified card)
    {
        var all = new StringBuilder();
        foreach ((string name, Reading<string> reading) in card.Files.OrderBy(f => f.Key, StringComparer.Ordinal))
        {
            string said = reading.Value ?? reading.Reason ?? "";
            all.Append(name.Length).Append(' ').Append(name).Append((int)reading.State).Append(' ')
                .Append(said.Length).Append(' ').Append(said);
        }

        string key = all.ToString();
        if (!_files.TryGetValue(key, out IReadOnlyDictionary<string, Reading<string>>? files))
        {
            _files.Add(key, files = card.Files);
        }

        return card with { Identity = Text(card.Identity), DiskName = TextOrNull(card.DiskName), Files = files };
    }

    private string? TextOrNull(string? text) => text is null ? null : Text(text);
}
