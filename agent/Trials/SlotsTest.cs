using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Judging;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Tries two cards at once against each alone, with the trials of a run, in one process as runs are. A round holds every kind of each card
/// alone and every kind of one beside every kind of the other, in an order drawn anew, so that what drifts falls on both alike.
/// </summary>
/// <param name="first">A card and the disk it is.</param>
/// <param name="second">The other.</param>
/// <param name="seed">Order, places and data follow from it.</param>
/// <param name="clocks">
/// What the trials of the two cards are timed with, asked for before each with whether both are at work; null is the board's clock.
/// </param>
internal sealed class SlotsTest(
    (string Disk, IBlockTarget Target) first, (string Disk, IBlockTarget Target) second, ulong seed,
    Func<bool, TrialClock[]>? clocks = null)
{
    /// <summary>Part of each card that is used, at most, bytes: more than a card's own memory, and written in a minute.</summary>
    internal const long RangeBytes = 256L << 20;

    /// <summary>Writing the range takes no card longer (a choice; class 2 needs two minutes).</summary>
    private const double PrepareSeconds = 600;

    private static readonly (TrialKind Kind, int BlockBytes)[] s_reads = [(TrialKind.RandomRead, 4096),
        (TrialKind.SequentialRead, 1 << 20)];
    private static readonly (TrialKind Kind, int BlockBytes)[] s_writes = [(TrialKind.SynchronousWrite, 4096),
        (TrialKind.SequentialWrite, 1 << 20)];

    private readonly (string Disk, IBlockTarget Target)[] _cards = [first, second];
    private readonly ContentMap[] _maps = [new(first.Target.SizeBytes), new(second.Target.SizeBytes)];
    private readonly long[] _written = new long[2];
    private TrialClock[] _clocks = [TrialClock.OfBoard, TrialClock.OfBoard];
    private int _trials;

    /// <summary>Length of one trial, seconds.</summary>
    internal double Seconds { get; init; } = 2;

    /// <summary>Bytes written to each card so far.</summary>
    internal IReadOnlyList<long> Written => _written;

    /// <summary>What is tried: reads, and writes where both cards may be written.</summary>
    private (TrialKind Kind, int BlockBytes)[] Kinds => _cards.All(c => c.Target.CanWrite) ? [.. s_reads, .. s_writes] : s_reads;

    /// <summary>Time of a number of rounds without what is written before them, seconds.</summary>
    internal static double Estimate(int rounds, bool writes, double seconds = 2)
    {
        int kinds = s_reads.Length + (writes ? s_writes.Length : 0);
        return rounds * ((kinds * kinds) + (2 * kinds)) * seconds;
    }

    /// <summary>Runs the test.</summary>
    /// <param name="rounds">Rounds, 1 or more.</param>
    /// <param name="told">Called after every round with its number.</param>
    /// <param name="cancellation">Ends it within some seconds.</param>
    /// <exception cref="TargetException">A card failed, hung or did not give back what was written; nothing of the test counts.</exception>
    /// <exception cref="OperationCanceledException">It was stopped.</exception>
    internal IReadOnlyList<SlotComparison> Run(int rounds, Action<int> told, CancellationToken cancellation)
    {
        (TrialKind Kind, int BlockBytes)[] kinds = Kinds;
        if (kinds.Length > s_reads.Length)
        {
            foreach (int card in (int[])[0, 1])
            {
                _ = Finished(card, Trial(card, (TrialKind.SequentialWrite, 1 << 20), cancellation, isWhole: true), cancellation);
            }
        }

        var cells = (from a in Enumerable.Range(-1, kinds.Length + 1) from b in Enumerable.Range(-1, kinds.Length + 1) where a >= 0
            || b >= 0 select (A: a, B: b)).ToList();
        var figures = new List<(int Round, int A, int B, TrialRaw? OfA, TrialRaw? OfB)>();
        var random = new Random(unchecked((int)SplitSeed.Of(seed, -1)));
        for (int round = 0; round < rounds; round++)
        {
            (int A, int B)[] order = [.. cells];
            random.Shuffle(order);
            foreach ((int a, int b) in order)
            {
                (TrialRaw? ofA, TrialRaw? ofB) = Both(a < 0 ? null : kinds[a], b < 0 ? null : kinds[b], cancellation);
                figures.Add((round, a, b, ofA, ofB));
            }

            told(round + 1);
        }

        return [.. cells.Where(c => c is { A: >= 0, B: >= 0 }).SelectMany(c => new[]
        {
            Compare(0, kinds[c.A].Kind, kinds[c.B].Kind, [.. figures.Where(f => f.A == c.A && f.B == c.B).Select(f => f.OfA!)],
                [.. figures.Where(f => f.A == c.A && f.B < 0).Select(f => f.OfA!)]),
            Compare(1, kinds[c.B].Kind, kinds[c.A].Kind, [.. figures.Where(f => f.A == c.A && f.B == c.B).Select(f => f.OfB!)],
                [.. figures.Where(f => f.B == c.B && f.A < 0).Select(f => f.OfB!)]),
        })];
    }

    /// <summary>Both lists are in the order of the rounds.</summary>
    private SlotComparison Compare(int card, TrialKind kind, TrialKind beside, TrialRaw[] together, TrialRaw[] alone)
    {
        double[] logs = [.. together.Zip(alone, (t, a) => Math.Log(Speed(t) / Speed(a)))];
        double mean = logs.Average();
        double sd = logs.Length < 2 ? 0 : Math.Sqrt(logs.Sum(l => (l - mean) * (l - mean)) / (logs.Length - 1));
        return new SlotComparison(_cards[card].Disk, kind, _cards[1 - card].Disk, beside, logs.Length, mean, sd,
            Stalls(together), Stalls(alone));
    }

    private static double Speed(TrialRaw raw) => raw.Operations / (double)raw.ElapsedNs;

    private static StallCount Stalls(TrialRaw[] all) => new(all.Sum(r => r.StallCount), all.Sum(r => r.ElapsedNs / 1e9));

    private (TrialRaw? OfFirst, TrialRaw? OfSecond) Both((TrialKind, int)? first, (TrialKind, int)? second, CancellationToken cancellation)
    {
        _clocks = clocks?.Invoke(first is not null && second is not null) ?? _clocks;
        TrialRaw? others = null;
        Thread? other = null;
        if (second is { } b)
        {
            other = new Thread(() => others = Trial(1, b, cancellation)) { IsBackground = true };
            other.Start();
        }

        TrialRaw? own = first is { } a ? Trial(0, a, cancellation) : null;
        other?.Join(); // it ends by the limits of its trial
        return (own is null ? null : Finished(0, own, cancellation), others is null ? null : Finished(1, others, cancellation));
    }

    private TrialRaw Trial(int card, (TrialKind Kind, int BlockBytes) what, CancellationToken cancellation, bool isWhole = false)
    {
        IBlockTarget target = _cards[card].Target;
        long range = Math.Min(RangeBytes, target.SizeBytes);
        var spec = new TrialSpec
        {
            Kind = what.Kind,
            BlockBytes = what.BlockBytes,
            StartBytes = 0,
            LengthBytes = range - (range % what.BlockBytes),
            Seconds = isWhole ? PrepareSeconds : Seconds,
            OperationsAtMost = isWhole ? range / what.BlockBytes : long.MaxValue,
            StallLimitNs = (long)(PlanKinds.DefaultStallLimitMs(what.Kind) * 1e6),
            Seed = SplitSeed.Of(seed, Interlocked.Increment(ref _trials)),
        };
        TrialRaw raw = TrialEngine.Run(spec, target, _maps[card], null, cancellation, clock: _clocks[card]);
        _written[card] += TrialKinds.Writes(what.Kind) ? raw.Bytes - raw.ReadBytes : 0;
        return raw;
    }

    private TrialRaw Finished(int card, TrialRaw raw, CancellationToken cancellation)
    {
        cancellation.ThrowIfCancellationRequested();
        string? why = raw switch
        {
            { End: TrialEnd.Stuck } => "hung",
            { End: TrialEnd.Error } =>
                string.Create(CultureInfo.InvariantCulture, $"failed at byte {raw.ErrorOffset}: {Errno.Text(raw.Errno)}"),
            { Mismatches: > 0 } =>
                string.Create(CultureInfo.InvariantCulture, $"gave back {raw.Mismatches} blocks other than they were written"),
            { Operations: 0 } or { ElapsedNs: 0 } => "completed no operation within a trial",
            _ => null,
        };
        return why is null
            ? raw
            : throw new TargetException(TargetErrorKind.Other, $"The card in {_cards[card].Disk} {why}; nothing of the test counts.");
    }
}
