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
            figures.AddRun(run, run.Figures, duplicate, contexts);
            if (run.ElapsedNs > 0)
            {
                figures.RunHours.Add(run.ElapsedNs / 3.6e12);
            }

            figures.DiskBytes = run.Card is { DiskBytes: > 0 } card ? card.DiskBytes : figures.DiskBytes;
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

    private void AddRun(RunRecord run, RunFigures of, bool duplicate, Dictionary<MeasuringContext, MeasuringContext> contexts)
    {
        DateOnly night = NightClock.NightOf(run);
        CardCondition state = Source.Claim?.Condition ?? CardCondition.Unknown;
        var setAside = new List<SetAsideValue>();
        var keys = new KeyFigures[of.Trials.Count];
        MeasuringContext? context = null;
        int pooled = 0;
        for (int i = 0; i < keys.Length; i++)
        {
            TrialOutcome trial = of.Trials[i];
            if (context is null || context.BusMode != trial.Of.BusMode)
            {
                context = Intern(contexts, ContextOf(run.Opened, trial.Of.BusMode, state));
            }

            KeyFigures key = keys[i] = KeyOf(context, trial.Of);
            key.Stalls += trial.Slow.Stalls + (trial.SlowReads?.Stalls ?? 0);
            var value = new MetricValue(trial.Value, trial.Record, run.Opened.RunId, run.Board, night, trial.Repetition);
            if ((duplicate ? SetAsideRule.DuplicateRun : trial.Rule) is { } because)
            {
                var aside = new SetAsideValue(trial.Of.Kind, value, because, trial.Reasons);
                setAside.Add(aside);
                key.SetAside.Add(aside);
                continue;
            }

            key.Values.Add(value);
            pooled++;
        }

        if (!duplicate)
        {
            NoteBehaviour(of, keys);
        }

        Runs.Add(new RunUse
        {
            Key = run.Key,
            Run = run.Opened.RunId,
            Board = run.Board,
            Origin = run.Origin,
            Night = night,
            Context = context ?? Intern(contexts, ContextOf(run.Opened, null, state)),
            Outcome = run.Closed?.Outcome,
            Pooled = pooled,
            SetAside = setAside.Count == 0 ? [] : setAside,
            Rule = duplicate ? SetAsideRule.DuplicateRun : null,
        });
    }

    private void NoteBehaviour(RunFigures of, KeyFigures[] keys)
    {
        foreach ((int place, double ratio) in of.Closing)
        {
            ComparabilityKey key = keys[place].Key;
            if (!ClosingRatios.TryGetValue(key, out List<(double, RecordKey)>? ratios))
            {
                ClosingRatios.Add(key, ratios = []);
            }

            ratios.Add((ratio, of.Trials[place].Record));
        }

        CompletedNothing.AddRange(of.Empty.Select(e => (e.Kind, e.ElapsedNs, e.Record)));
        foreach (LongStall stall in of.Stalls)
        {
            (TrialKind, bool, bool) kind = (stall.Kind, stall.IsRead, stall.IsCardAlone);
            if (stall.LatencyNs > LongestStalls.GetValueOrDefault(kind).LatencyNs)
            {
                LongestStalls[kind] = (stall.LatencyNs, stall.Record);
            }
        }
    }

    private KeyFigures KeyOf(MeasuringContext context, FigureConditions of)
    {
        var index = (context, of.Kind, of.BlockBytes, of.QueueDepth, of.Variant, of.Range, of.Fill);
        if (!_keys.TryGetValue(index, out KeyFigures? key))
        {
            key = new KeyFigures(new ComparabilityKey(of.Kind, of.BlockBytes, of.QueueDepth, context, of.Variant, of.Range, of.Fill));
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
