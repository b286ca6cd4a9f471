using Cardassay.Agent.BlockIo;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Brings the target into the state the trials need: the ranges that are read were never written by this run, so they are written,
/// flushed and read back before the first trial. In a folder all ranges are, because a file's blocks have no place on the card
/// before. Writes must come first: a block nobody wrote may be answered without touching the flash, and the figure would be
/// too good. What the long write at the start of a run has written already is only read back, unless the plan wants more passes.
/// </summary>
internal static class RunPreparation
{
    private const int BlockBytes = 1 << 20;

    /// <summary>No bound of its own: cancelling ends it.</summary>
    private const double Seconds = 7 * 86_400;

    /// <summary>Writes (so many times), flushes and reads back the ranges; stops at the first that fails.</summary>
    /// <param name="ranges">What to fill, ascending.</param>
    /// <param name="passes">How often everything is written; 1 writes only what the run has not written yet.</param>
    /// <param name="map">What the run has written.</param>
    /// <param name="seed">Seed of the run.</param>
    /// <param name="run">Runs one part.</param>
    /// <returns>Bytes written and what the last part measured.</returns>
    public static (long BytesWritten, TrialRaw Last) Run(
        IReadOnlyList<(long StartBytes, long EndBytes)> ranges, int passes, ContentMap map, ulong seed, Func<TrialSpec, TrialRaw> run)
    {
        long written = 0;
        var last = new TrialRaw { End = TrialEnd.Finished };
        for (int i = 0; i < ranges.Count && last.End == TrialEnd.Finished; i++)
        {
            ulong rangeSeed = SplitSeed.Of(seed, -1 - i);
            for (int pass = 0; pass < passes && last.End == TrialEnd.Finished; pass++)
            {
                foreach ((long start, long end) in ToWrite(ranges[i], passes, map))
                {
                    if (last.End == TrialEnd.Finished)
                    {
                        last = run(Spec(start, end, SplitSeed.Of(rangeSeed, pass)));
                        written += last.Bytes;
                    }
                }
            }

            if (last.End == TrialEnd.Finished)
            {
                last = run(ReadThrough(ranges[i].StartBytes, ranges[i].EndBytes, rangeSeed));
            }
        }

        return (written, last);
    }

    /// <summary>What is to be written of a range, so many times.</summary>
    public static IReadOnlyList<(long StartBytes, long EndBytes)> ToWrite(
        (long StartBytes, long EndBytes) range, int passes, ContentMap map) =>
        passes == 1 ? map.Unwritten(range.StartBytes, range.EndBytes) : [range];

    /// <summary>Reads and checks every block of a range, in order.</summary>
    public static TrialSpec ReadThrough(long startBytes, long endBytes, ulong seed) =>
        Spec(startBytes, endBytes, seed) with { Kind = TrialKind.SequentialRead };

    private static TrialSpec Spec(long startBytes, long endBytes, ulong seed)
    {
        long length = endBytes - startBytes;
        int block = length % BlockBytes == 0 ? BlockBytes : SectorTag.BlockBytes * (int)Divisor(length / SectorTag.BlockBytes);
        return new TrialSpec
        {
            Kind = TrialKind.SequentialWrite,
            BlockBytes = block,
            StartBytes = startBytes,
            LengthBytes = length,
            Seconds = Seconds,
            OperationsAtMost = length / block,
            ChecksEveryBlock = true,
            Seed = seed,
        };
    }

    /// <summary>The largest power of two up to 256 that divides a number of blocks.</summary>
    private static long Divisor(long blocks) => Math.Min(256, blocks & -blocks);
}
