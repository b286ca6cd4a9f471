using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>The address space in a line of characters while a full proof goes on.</summary>
internal static class LiveMap
{
    /// <summary>Characters of the line.</summary>
    public const int Width = 32;

    /// <summary>What the characters mean.</summary>
    public const string Legend = "- nothing yet, w written, # kept, ! lost, ? not judged";

    /// <summary>Draws the line; a cell with one lost block is a lost one.</summary>
    public static string Draw(long coveredBytes, long writtenBytes, long readBytes, IReadOnlyList<ProofRange> ranges)
    {
        Span<char> cells = stackalloc char[Width];
        for (int i = 0; i < Width; i++)
        {
            long end = (long)((Int128)coveredBytes * (i + 1) / Width);
            cells[i] = end <= readBytes ? '#' : end <= writtenBytes ? 'w' : '-';
        }

        foreach (ProofRange range in ranges)
        {
            if (range.State is BlockState.Kept or BlockState.NotProbed)
            {
                continue;
            }

            int first = (int)((Int128)range.StartBytes * Width / coveredBytes);
            int last = (int)((Int128)(range.EndBytes - 1) * Width / coveredBytes);
            for (int i = first; i <= Math.Min(last, Width - 1); i++)
            {
                cells[i] = range.State != BlockState.NotJudged ? '!' : cells[i] == '!' ? '!' : '?';
            }
        }

        return new string(cells);
    }
}
