using System.Globalization;
using System.Text.Json;
using Cardassay.Agent.Conditions;
using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;
using Cardassay.Trust;

namespace Cardassay.Agent.Commands;

/// <summary>A preview as JSON. Hex is text that begins with 0x, a month is yyyy-MM.</summary>
internal sealed record CardPreviewJson(
    string Identity, bool IdentityFromRegisters, string? Type, string? Tag, CardPreviewJson.OfDisk Disk, IReadOnlyDictionary<string, CardPreviewJson.OfRegister> Registers,
    CardPreviewJson.OfCard Card, CardPreviewJson.OfChecks Checks, CardPreviewJson.OfBus? Bus, CardPreviewJson.OfHealth? Health, CardPreviewJson.OfClaim? Claim,
    IReadOnlyList<Finding> Findings, CardPreviewJson.OfVerdict Verdict)
{
    internal static string Render(CardPreview preview) => PlainText.EscapedJson(JsonSerializer.Serialize(Of(preview), CommandJson.Relaxed.CardPreviewJson)) + "\n";

    private static CardPreviewJson Of(CardPreview preview)
    {
        (CardFacts facts, Verdict verdict) = (preview.Facts, preview.Judgement.Verdict);
        string? type = preview.Registers.Type switch { CardType.Sd => "SD", CardType.Mmc => "MMC", _ => null };
        return new CardPreviewJson(
            preview.Sighting.Identity.Text,
            preview.Sighting.Identity.FromRegisters,
            CardPreview.TextOf(preview.Sighting, "type")?.Trim() ?? type,
            preview.Tag,
            new(preview.Sighting.DiskName, preview.Registers.DiskBytes, preview.Sighting.DiskSequence, preview.Sighting.Attachment, preview.Sighting.Remark ?? preview.Target.Remark),
            new OrderedDictionary<string, OfRegister>(RegisterReading.Of(preview).Select(r => KeyValuePair.Create(r.FileName, new OfRegister(r.Text.State, r.Text.Value, r.Decoded, r.Reason)))),
            new(
                Hex(facts.ManufacturerId, 2), Hex(facts.OemId, 4), facts.ProductName, facts.ProductRevision, Hex(facts.SerialNumber, 8), facts.Manufactured?.ToString(),
                facts.CapacityBytes, facts.Family, facts.CsdVersion, facts.SpecVersion, facts.SpeedClass, facts.UhsGrade, facts.VideoClass, facts.ApplicationClass,
                facts.AllocationUnitBytes, facts.ProtectedAreaBytes),
            new(facts.CidCrc ?? CrcState.NotAvailable, facts.CsdCrc ?? CrcState.NotAvailable), // a register that was not read has no checksum to look at either
            preview.Bus.Value is { } bus ? new(bus.Mode, bus.ClockHz, bus.ActualClockHz, bus.WidthBits, bus.SignalVoltage, preview.LinkErrors) : null,
            preview.Health is { } health ? new(Hex(health.LifeTimeA, 2), Hex(health.LifeTimeB, 2), Hex(health.SpareBlocks, 2)) : null,
            preview.Claim is { } claim ? new(
                claim.Maker, claim.Product, claim.LabelGigabytes, claim.Marks, claim.Condition switch { CardCondition.New => "new", CardCondition.Used => "used", _ => null },
                claim.Purchased) : null,
            preview.Judgement.Findings,
            new(verdict.Words, true, verdict.Missing, preview.BoardDay, preview.IsClockSensible));
    }

    private static string? Hex(long? value, int digits) =>
        value is { } number ? "0x" + number.ToString("x" + digits.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture) : null;

    internal sealed record OfDisk(string Name, long? Bytes, long? Sequence, Attachment Attachment, string? Remark);

    internal sealed record OfRegister(ReadingState State, string? Text, bool Decoded, string? Reason);

    internal sealed record OfCard(
        string? ManufacturerId, string? OemId, string? ProductName, string? ProductRevision, string? SerialNumber, string? Manufactured, long? CapacityBytes, string? Family,
        int? CsdVersion, string? SpecVersion, int? SpeedClass, int? UhsGrade, int? VideoClass, int? ApplicationClass, long? AllocationUnitBytes, long? ProtectedAreaBytes);

    internal sealed record OfChecks(CrcState CidCrc, CrcState CsdCrc);

    internal sealed record OfBus(string? Mode, long? ClockHz, long? ActualClockHz, int? WidthBits, string? SignalVoltage, long? LinkErrors);

    internal sealed record OfHealth(string? LifeTimeA, string? LifeTimeB, string? PreEndOfLife);

    internal sealed record OfClaim(string? Maker, string? Product, decimal? LabelGigabytes, IReadOnlyList<string>? Marks, string? Condition, DateOnly? Purchased);

    internal sealed record OfVerdict(string Words, bool Preview, IReadOnlyList<string> Missing, DateOnly BoardDay, bool DatesComparedWithToday);
}
