using System.Text;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Keeps of a trial what analysis, report and tables use, and everything that is the same in many trials only once: a laboratory of ten
/// years has millions of them in memory at once. What is left out stays in the store and in the intake log. Not safe for several threads.
/// </summary>
internal sealed class LeanTrials
{
    private readonly HashSet<string> _texts = new(StringComparer.Ordinal);
    private readonly Dictionary<KeptConditions, Conditions> _conditions = [];
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
            all.Append(name.Length).Append(' ').Append(name).Append((int)reading.State).Append(' ').Append(said.Length).Append(' ').Append(said);
        }

        string key = all.ToString();
        if (!_files.TryGetValue(key, out IReadOnlyDictionary<string, Reading<string>>? files))
        {
            _files.Add(key, files = card.Files);
        }

        return card with { Identity = Text(card.Identity), DiskName = TextOrNull(card.DiskName), Files = files };
    }

    /// <summary>The trial, or a part of one, without what nothing of this program shows.</summary>
    internal TrialMeasured Keep(TrialMeasured trial)
    {
        TrialMeasured kept = trial with
        {
            Timeline = Packed(trial),

            Stalls = LongestStalls.Of(trial),
            UnitNs = [],
            Reasons = trial.Reasons.Count == 0 ? [] : [.. trial.Reasons.Select(Text)],
            During = Telling(trial.During),
        };
        return kept.Part == 0 ? Counted(kept) : kept with { Before = Kept(kept.Before), After = Kept(kept.After) };
    }

    /// <summary>
    /// A trial that <see cref="Keep(TrialMeasured)"/> made, read again, with conditions of <see cref="Shared(Conditions)"/>.
    /// </summary>
    internal TrialMeasured Shared(TrialMeasured kept) => kept with
    {
        Timeline = Packed(kept),
        Reasons = kept.Reasons.Count == 0 ? [] : [.. kept.Reasons.Select(Text)],
    };

    /// <summary>Conditions that it made, read again: the one instance of them.</summary>
    internal Conditions Shared(Conditions kept) => Kept(KeptConditions.Of(kept));

    /// <summary>A trial that was put together from parts, packed again.</summary>
    internal TrialMeasured Joined(TrialMeasured trial) => Counted(trial with
    {
        Timeline = Packed(trial),
        Latency = LatencyHistogram.OfBuckets(trial.Latency.Buckets()),
        ReadLatency = trial.ReadLatency is { } reads ? LatencyHistogram.OfBuckets(reads.Buckets()) : null,
    });

    /// <summary>
    /// The trial with its counters counted from its beginning, so that its conditions are like those of others. Only their growth over the
    /// trial is used; of the disk's traffic only the sum of both directions.
    /// </summary>
    private TrialMeasured Counted(TrialMeasured trial)
    {
        Conditions before = trial.Before, after = trial.After;
        if (before.LinkErrors < 0 || after.LinkErrors < 0)
        {
            return trial with { Before = Kept(before), After = Kept(after) }; // made up; differences could overflow
        }

        long? sectors = unchecked(after.SectorsRead - before.SectorsRead + (after.SectorsWritten - before.SectorsWritten));
        long? none = sectors is null ? null : 0;
        long? operations = unchecked(after.ReadsCompleted - before.ReadsCompleted + (after.WritesCompleted - before.WritesCompleted));
        long? noOperations = operations is null ? null : 0;
        return trial with
        {
            Before = Kept(before with
            {
                LinkErrors = before.LinkErrors is null ? null : 0,
                SectorsRead = none,
                SectorsWritten = none,
                ReadsCompleted = noOperations,
                WritesCompleted = noOperations,
            }),
            After = Kept(after with
            {
                LinkErrors = after.LinkErrors is null ? null : before.LinkErrors is null ? 0 : after.LinkErrors - before.LinkErrors,
                SectorsRead = sectors,
                SectorsWritten = none,
                ReadsCompleted = operations,
                WritesCompleted = noOperations,
            }),
        };
    }

    /// <summary>Of the samples during a trial those that say something the ones before them did not: another state, or a new highest or lowest temperature.</summary>
    private IReadOnlyList<Conditions> Telling(IReadOnlyList<Conditions> samples)
    {
        if (samples.Count == 0)
        {
            return [];
        }

        var kept = new List<Conditions>();
        var states = new HashSet<KeptConditions>();
        (long Low, long High, long HighLow) seen = (long.MaxValue, long.MaxValue, long.MinValue);
        foreach (Conditions sample in samples)
        {
            var state = KeptConditions.Of(sample with { LinkErrors = sample.LinkErrors is null ? null : 0, SectorsRead = null, SectorsWritten = null, ReadsCompleted = null, WritesCompleted = null });
            bool tells = states.Add(state with { Hottest = null, Coldest = null });
            if (state.Hottest is { } hottest && state.Coldest is { } coldest
                && (coldest < seen.Low || hottest < seen.High || hottest > seen.HighLow))
            {
                // The report shows the lowest and the highest of the hottest sensor, the tables the extremes of all.
                tells = true;
                seen = (Math.Min(seen.Low, coldest), Math.Min(seen.High, hottest), Math.Max(seen.HighLow, hottest));
            }

            if (tells)
            {
                kept.Add(Kept(state));
            }
        }

        return [.. kept];
    }

    private static IReadOnlyList<TimelineSecond> Packed(TrialMeasured trial) =>
        trial.Timeline.Count == 0 || !TrialKinds.ShowsTimeline(trial.Kind) ? [] : new PackedTimeline(trial.Timeline, trial.BlockBytes);

    private string? TextOrNull(string? text) => text is null ? null : Text(text);

    private Conditions Kept(Conditions conditions) => Kept(KeptConditions.Of(conditions));

    private Conditions Kept(KeptConditions of)
    {
        if (of.SectorsRead is not (null or 0) || of.SectorsWritten is not (null or 0) || of.ReadsCompleted is not (null or 0) || of.WritesCompleted is not (null or 0))
        {
            return of.ToConditions(Text); // no two trials move the same number of sectors
        }

        if (!_conditions.TryGetValue(of, out Conditions? known))
        {
            _conditions.Add(of, known = of.ToConditions(Text));
        }

        return known;
    }
}
