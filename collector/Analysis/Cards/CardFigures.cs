using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;
using Cardassay.Judging;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>All figures of one card, sorted by comparability key, with what became of every trial.</summary>
internal sealed class CardFigures
{
    private readonly Dictionary<(MeasuringContext, TrialKind, long, int, string, AddressRange, CardFill), KeyFigures> _keys = [];

    private CardFigures(CardSource source) => Source = source;

    public CardSource Source { get; }

    /// <summary>By metric order, then block, depth and context.</summary>
    public IReadOnlyList<KeyFigures> Keys { get; private set; } = [];

    public List<RunUse> Runs { get; } = [];

    /// <summary>Ratio of a run's closing trial to its first, per metric key.</summary>
    public Dictionary<ComparabilityKey, List<(double Ratio, RecordKey Record)>> ClosingRatios { get; } = [];

    /// <summary>Longest read and longest write over its trial's limit, ns; absent when there was none.</summary>
    public Dictionary<(TrialKind Kind, bool IsRead, bool IsCardAlone), (long LatencyNs, RecordKey Record)> LongestStalls { get; } = [];

    /// <summary>Trials in which the card completed nothing, in order of measurement.</summary>
    public List<(TrialKind Kind, long ElapsedNs, RecordKey Record)> CompletedNothing { get; } = [];

    /// <summary>Bytes written by the end of each night, ascending, as far as the odometers tell.</summary>
    public SortedDictionary<DateOnly, long> OdometerByNight { get; } = [];

    /// <summary>Hours the trials of each run took, in order of measurement; runs without a figure are left out.</summary>
    public List<double> RunHours { get; } = [];

    /// <summary>Bytes of the disk as the last run saw it; 0 when none did.</summary>
    public long DiskBytes { get; private set; }

    public static CardFigures Of(CardSource source)
    {
        var figures = new CardFigures(source);
        var contexts = new Dictionary<MeasuringContext, MeasuringContext>();
        var seen = new HashSet<RunId>();
        long written = 0;
        foreach (RunRecord run in source.Runs)
        {
            bool duplicate = !seen.Add(run.Opened.RunId);
            figures.AddRun(run, duplicate, contexts);
            figures.AddCost(run);
            if (run.Closed is { } closed && !duplicate)
            {
                written = Math.Max(written + closed.BytesWritten, closed.OdometerBytes);
                figures.OdometerByNight[NightClock.NightOf(run)] = written;
            }
        }

        figures.Keys =
        [
            .. figures._keys.Values.OrderBy(k => TrialKinds.PlaceOf(k.Key.Kind)).ThenBy(k => k.Key.BlockBytes).ThenBy(k => k.Key.QueueDepth)
                .ThenBy(k => k.Key.Text, StringComparer.Ordinal),
        ];
        return figures;
    }

    private void AddCost(RunRecord run)
    {
        long elapsedNs = 0;
        foreach (TrialRecord record in run.Trials)
        {
            elapsedNs += record.Trial.ElapsedNs;
        }

        if (elapsedNs > 0)
        {
            RunHours.Add(elapsedNs / 3.6e12);
        }

        DiskBytes = run.Card is { DiskBytes: > 0 } card ? card.DiskBytes : DiskBytes;
    }

    private void AddRun(RunRecord run, bool duplicate, Dictionary<MeasuringContext, MeasuringContext> contexts)
    {
        DateOnly night = NightClock.NightOf(run);
        var setAside = new List<SetAsideValue>();
        MeasuringContext? context = null;
        int pooled = 0;
        (TrialMeasured Trial, double Value)? first = null;
        foreach (TrialRecord record in run.Trials)
        {
            TrialMeasured trial = record.Trial;
            string? busMode = trial.Before.BusMode ?? trial.After.BusMode;
            if (context is null || context.BusMode != busMode)
            {
                context = Intern(contexts, ContextOf(run.Opened, busMode, Source.Claim?.Condition ?? CardCondition.Unknown));
            }

            KeyFigures key = KeyOf(context, trial, CardBytesOf(run));
            var value = new MetricValue(TrialFigure.Of(trial), record.Key, trial.RunId, run.Board, night, trial.Repetition);
            SetAsideRule? rule = duplicate ? SetAsideRule.DuplicateRun : TrialScreen.RuleFor(run.Opened, trial);
            NoteStall(run.Opened.Target, record, rule);
            if (rule is { } because)
            {
                var aside = new SetAsideValue(trial.Kind, value, because, trial.Reasons);
                setAside.Add(aside);
                key.SetAside.Add(aside);
                NoteClosing(key.Key, first, trial, value, because);
                continue;
            }

            if (first is null && trial.Kind != TrialKind.Cliff && !key.Key.IsFirstPass)
            {
                first = (trial, value.Value); // the first of the rounds: what comes once before them is not what is repeated last
            }

            key.Values.Add(value);
            pooled++;
        }

        Runs.Add(new RunUse
        {
            Key = run.Key,
            Run = run.Opened.RunId,
            Board = run.Board,
            Origin = run.Origin,
            Night = night,
            Context = context ?? Intern(contexts, ContextOf(run.Opened, null, Source.Claim?.Condition ?? CardCondition.Unknown)),
            Outcome = run.Closed?.Outcome,
            Pooled = pooled,
            SetAside = setAside.Count == 0 ? [] : setAside,
            Rule = duplicate ? SetAsideRule.DuplicateRun : null,
        });
    }

    private void NoteClosing(
        ComparabilityKey key, (TrialMeasured Trial, double Value)? first, TrialMeasured closing, MetricValue value, SetAsideRule rule)
    {
        if (rule == SetAsideRule.ClosingRole && first is { } opening && opening.Value > 0 && opening.Trial.Kind == closing.Kind
            && opening.Trial.BlockBytes == closing.BlockBytes && opening.Trial.QueueDepth == closing.QueueDepth && opening.Trial.Pass == closing.Pass
            && opening.Trial.RangeBytes == closing.RangeBytes)
        {
            if (!ClosingRatios.TryGetValue(key, out List<(double, RecordKey)>? ratios))
            {
                ClosingRatios.Add(key, ratios = []);
            }

            ratios.Add((value.Value / opening.Value, value.Record));
        }
    }

    private void NoteStall(TargetKind target, TrialRecord record, SetAsideRule? rule)
    {
        // The conditions explain a stall under low voltage, throttling, link errors or foreign traffic; the card is not to blame.
        bool nothing = TrialScreen.CompletedNothing(record.Trial);
        if ((record.Trial.StallCount == 0 && !nothing) || rule is not (null or SetAsideRule.ClosingRole or SetAsideRule.WarmUpRole))
        {
            return;
        }

        if (nothing)
        {
            CompletedNothing.Add((record.Trial.Kind, record.Trial.ElapsedNs, record.Key));
        }

        IEnumerable<(bool IsRead, long LatencyNs)> stalls = record.Trial.Stalls.Select(s => (s.IsRead, s.LatencyNs));
        foreach ((bool isRead, long latencyNs) in nothing ? stalls.Append((false, record.Trial.ElapsedNs)) : stalls)
        {
            // Below a file system, or behind another operation, an operation waits for more than the card.
            bool isCardAlone = target == TargetKind.Device && record.Trial.QueueDepth <= 1;
            var of = (record.Trial.Kind, isRead || !TrialKinds.Writes(record.Trial.Kind), isCardAlone);
            if (latencyNs > LongestStalls.GetValueOrDefault(of).LatencyNs)
            {
                LongestStalls[of] = (latencyNs, record.Key);
            }
        }
    }

    private static long CardBytesOf(RunRecord run) =>
        run.Card is { DiskBytes: > 0 } card ? card.DiskBytes : run.Opened.Target == TargetKind.Device ? run.Opened.TargetBytes : 0;

    private KeyFigures KeyOf(MeasuringContext context, TrialMeasured trial, long cardBytes)
    {
        string variant = ComparabilityKey.VariantOf(trial);
        AddressRange range = AddressRange.Of(trial, cardBytes);
        CardFill fill = context.Target == TargetKind.Device ? CardFills.Of(trial, cardBytes) : CardFill.NotMeasured;
        var index = (context, trial.Kind, trial.BlockBytes, trial.QueueDepth, variant, range, fill);
        if (!_keys.TryGetValue(index, out KeyFigures? key))
        {
            key = new KeyFigures(new ComparabilityKey(trial.Kind, trial.BlockBytes, trial.QueueDepth, context, variant, range, fill));
            _keys.Add(index, key);
        }

        return key;
    }

    private static MeasuringContext ContextOf(RunOpened opened, string? busMode, CardCondition state) =>
        new(opened.PlanName, opened.PlanVersion, opened.Target, opened.Target == TargetKind.Folder ? opened.FileSystem : null, opened.Attachment, busMode, state);

    private static MeasuringContext Intern(Dictionary<MeasuringContext, MeasuringContext> contexts, MeasuringContext context)
    {
        if (contexts.TryGetValue(context, out MeasuringContext? known))
        {
            return known;
        }

        contexts.Add(context, context);
        return context;
    }
}
