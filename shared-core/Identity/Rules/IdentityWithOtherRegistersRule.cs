using Cardassay.Registers;

namespace Cardassay.Identity.Rules;

/// <summary>
/// One identity, but CSD, SCR or SD Status changed between sightings: the CID was copied to another card. What a host may write or
/// what follows the bus (write protection, COPY, file format, rate, bus width) does not count, and the maker's own bits of SCR (31:0) and
/// SD Status (311:0), which may count something, never identify a card.
/// </summary>
internal sealed class IdentityWithOtherRegistersRule : IFindingRule
{
    public string Id => "identity-with-other-registers";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        CardRegisters[] all = [evidence.Registers, .. evidence.Sightings.Select(s => s.Registers)];
        FindingValue[] fixedOnes = [.. Changed("CSD", all, Csd), .. Changed("SCR", all, r => r.Scr.Value?.Bits.With(31, 0, 0).ToHex())];
        if (fixedOnes.Length > 0)
        {
            yield return this.Contradiction(
                $"The same identity was seen with another {RuleFinding.List([.. fixedOnes.Select(v => v.Name)])}: "
                    + "two different cards bear it.",
                Sources.Csd + " and 5.6: read only",
                null,
                fixedOnes);
        }

        FindingValue[] status = [.. Changed("SD Status", all, r => r.Status.Value?.Lasting.ToHex())];
        if (status.Length > 0)
        {
            yield return this.Doubt(
                "The same identity was seen with another SD Status.",
                Sources.Status,
                "Read SD Status several times on one board; if it stays the same there, two cards bear the identity.",
                status);
        }
    }

    private static IEnumerable<FindingValue> Changed(string name, CardRegisters[] all, Func<CardRegisters, string?> read)
    {
        string[] distinct = [.. all.Select(read).OfType<string>().Distinct().Order(StringComparer.Ordinal)];
        if (distinct.Length > 1)
        {
            yield return new FindingValue(name, string.Join(", ", distinct));
        }
    }

    private static string? Csd(CardRegisters r) =>
        ((Register?)r.Csd.Value ?? r.MmcCsd.Value)?.Bits.With(103, 96, 0).With(15, 0, 0).ToHex();
}
