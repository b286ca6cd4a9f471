using System.Globalization;

namespace Cardassay.Agent.CapacityProof;

/// <summary>What the reader of a proof must know besides, as sentences.</summary>
internal static class ProofRemarks
{
    /// <param name="uncoveredBytes">Bytes at the end that are no whole block.</param>
    /// <param name="io">The transfers.</param>
    /// <param name="context">What surrounded the proof.</param>
    public static IReadOnlyList<string> Of(long uncoveredBytes, ProofIo io, ProofContext context)
    {
        var remarks = new List<string>();
        if (uncoveredBytes > 0)
        {
            remarks.Add(
                string.Create(CultureInfo.InvariantCulture, $"The last {uncoveredBytes} bytes are no whole block and were not probed."));
        }

        if (io.Repeats > 0)
        {
            remarks.Add(
                string.Create(CultureInfo.InvariantCulture, $"{io.Repeats} transfers failed or brought other bits and were right when "
                    + $"repeated; such errors are the link's or the reader's."));
        }

        if (io.WriteErrors > 0)
        {
            remarks.Add(string.Create(CultureInfo.InvariantCulture, $"{io.WriteErrors} blocks could not be written."));
        }

        if (context.Conditions is not null && context.Conditions.Sample().LinkErrors is null)
        {
            remarks.Add("The host does not count errors of the link, so they cannot be told from the card's by counting.");
        }

        return remarks;
    }
}
