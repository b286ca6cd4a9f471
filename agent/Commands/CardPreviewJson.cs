using System.Globalization;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using Cardassay.Agent.Conditions;
using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trust;

namespace Cardassay.Agent.Commands;

/// <summary>
/// A preview as JSON. Numbers are numbers, hex is text that begins with 0x, a month is yyyy-MM; what is not known is null.
/// </summary>
internal static class CardPreviewJson
{
    // The output goes to a terminal or a program, never into a page: '+' and '<' may stay what they are.
    private static readonly JsonWriterOptions Options = new()
    {
        Indented = true,
        NewLine = "\n",
        Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
    };

    internal static string Render(CardPreview preview)
    {
        using var stream = new MemoryStream();
        using (var json = new Utf8JsonWriter(stream, Options))
        {
            json.WriteStartObject();
            json.WriteString("identity", preview.Sighting.Identity.Text);
            json.WriteBoolean("identityFromRegisters", preview.Sighting.Identity.FromRegisters);
            json.WriteString("type", CardPreview.TextOf(preview.Sighting, "type")?.Trim() ?? preview.Registers.Type switch
            {
                CardType.Sd => "SD",
                CardType.Mmc => "MMC",
                _ => null,
            });
            json.WriteString("tag", preview.Tag);
            Disk(json, preview);
            Registers(json, preview);
            Card(json, preview.Facts);
            Checks(json, preview.Facts);
            Bus(json, preview);
            Health(json, preview.Health);
            ClaimOf(json, preview.Claim);
            FindingsJson.Write(json, preview.Judgement.Findings);
            Verdict(json, preview);
            json.WriteEndObject();
        }

        return PlainText.EscapedJson(Encoding.UTF8.GetString(stream.GetBuffer(), 0, (int)stream.Length)) + "\n";
    }

    private static void Disk(Utf8JsonWriter json, CardPreview preview)
    {
        json.WriteStartObject("disk");
        json.WriteString("name", preview.Sighting.DiskName);
        Number(json, "bytes", preview.Registers.DiskBytes);
        Number(json, "sequence", preview.Sighting.DiskSequence);
        json.WriteString("attachment", preview.Sighting.Attachment.ToString().ToLowerInvariant());
        json.WriteString("remark", preview.Sighting.Remark ?? preview.Target.Remark);
        json.WriteEndObject();
    }

    private static void Registers(Utf8JsonWriter json, CardPreview preview)
    {
        json.WriteStartObject("registers");
        foreach (RegisterReading register in RegisterReading.Of(preview))
        {
            json.WriteStartObject(register.FileName);
            json.WriteString("state", register.Text.State switch
            {
                ReadingState.Known => "known",
                ReadingState.Unreadable => "unreadable",
                _ => "absent",
            });
            json.WriteString("text", register.Text.Value);
            json.WriteBoolean("decoded", register.Decoded);
            json.WriteString("reason", register.Reason);
            json.WriteEndObject();
        }

        json.WriteEndObject();
    }

    private static void Card(Utf8JsonWriter json, CardFacts facts)
    {
        json.WriteStartObject("card");
        Hex(json, "manufacturerId", facts.ManufacturerId, 2);
        Hex(json, "oemId", facts.OemId, 4);
        json.WriteString("productName", facts.ProductName);
        json.WriteString("productRevision", facts.ProductRevision);
        Hex(json, "serialNumber", facts.SerialNumber, 8);
        json.WriteString("manufactured", facts.Manufactured?.ToString());
        Number(json, "capacityBytes", facts.CapacityBytes);
        json.WriteString("family", facts.Family);
        Number(json, "csdVersion", facts.CsdVersion);
        json.WriteString("specVersion", facts.SpecVersion);
        Number(json, "speedClass", facts.SpeedClass);
        Number(json, "uhsGrade", facts.UhsGrade);
        Number(json, "videoClass", facts.VideoClass);
        Number(json, "applicationClass", facts.ApplicationClass);
        Number(json, "allocationUnitBytes", facts.AllocationUnitBytes);
        Number(json, "protectedAreaBytes", facts.ProtectedAreaBytes);
        json.WriteEndObject();
    }

    private static void Checks(Utf8JsonWriter json, CardFacts facts)
    {
        json.WriteStartObject("checks");
        json.WriteString("cidCrc", Words(facts.CidCrc));
        json.WriteString("csdCrc", Words(facts.CsdCrc));
        json.WriteEndObject();

        // A register that was not read has no checksum to look at either.
        static string Words(CrcState? state) =>
            state switch { CrcState.Valid => "valid", CrcState.Invalid => "invalid", _ => "notAvailable" };
    }

    private static void Bus(Utf8JsonWriter json, CardPreview preview)
    {
        if (preview.Bus.Value is not { } bus)
        {
            json.WriteNull("bus");
            return;
        }

        json.WriteStartObject("bus");
        json.WriteString("mode", bus.Mode);
        Number(json, "clockHz", bus.ClockHz);
        Number(json, "actualClockHz", bus.ActualClockHz);
        Number(json, "widthBits", bus.WidthBits);
        json.WriteString("signalVoltage", bus.SignalVoltage);
        Number(json, "linkErrors", preview.LinkErrors);
        json.WriteEndObject();
    }

    private static void Health(Utf8JsonWriter json, MmcHealth? health)
    {
        if (health is null)
        {
            json.WriteNull("health");
            return;
        }

        json.WriteStartObject("health");
        Hex(json, "lifeTimeA", health.LifeTimeA, 2);
        Hex(json, "lifeTimeB", health.LifeTimeB, 2);
        Hex(json, "preEndOfLife", health.SpareBlocks, 2);
        json.WriteEndObject();
    }

    private static void ClaimOf(Utf8JsonWriter json, Claim? claim)
    {
        if (claim is null)
        {
            json.WriteNull("claim");
            return;
        }

        json.WriteStartObject("claim");
        json.WriteString("maker", claim.Maker);
        json.WriteString("product", claim.Product);
        if (claim.LabelGigabytes is { } gigabytes)
        {
            json.WriteNumber("labelGigabytes", gigabytes);
        }
        else
        {
            json.WriteNull("labelGigabytes");
        }

        if (claim.Marks is { } marks)
        {
            Strings(json, "marks", marks);
        }
        else
        {
            json.WriteNull("marks");
        }

        json.WriteString("condition", claim.Condition switch { CardCondition.New => "new", CardCondition.Used => "used", _ => null });
        json.WriteString("purchased", claim.Purchased?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture));
        json.WriteEndObject();
    }

    private static void Verdict(Utf8JsonWriter json, CardPreview preview)
    {
        json.WriteStartObject("verdict");
        json.WriteString("words", preview.Judgement.Verdict.Words);
        json.WriteBoolean("preview", true);
        Strings(json, "missing", preview.Judgement.Verdict.Missing);
        json.WriteString("boardDay", preview.BoardDay.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture));
        json.WriteBoolean("datesComparedWithToday", preview.IsClockSensible);
        json.WriteEndObject();
    }

    private static void Strings(Utf8JsonWriter json, string name, IReadOnlyList<string> texts)
    {
        json.WriteStartArray(name);
        foreach (string text in texts)
        {
            json.WriteStringValue(text);
        }

        json.WriteEndArray();
    }

    private static void Number(Utf8JsonWriter json, string name, long? value)
    {
        if (value is { } number)
        {
            json.WriteNumber(name, number);
        }
        else
        {
            json.WriteNull(name);
        }
    }

    private static void Hex(Utf8JsonWriter json, string name, long? value, int digits) =>
        json.WriteString(name, value is { } number
            ? "0x" + number.ToString("x" + digits.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture)
            : null);
}
