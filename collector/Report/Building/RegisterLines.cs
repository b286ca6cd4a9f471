using System.Globalization;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;
using Cardassay.Registers;

namespace Cardassay.Collector.Report.Building;

/// <summary>What the registers say, in the words of the table identity against claim.</summary>
internal static class RegisterLines
{
    /// <summary>Line by name; a line the registers are silent about is missing.</summary>
    public static IReadOnlyDictionary<string, string> Of(CardFacts? facts)
    {
        Dictionary<string, string> lines = [];
        if (facts is null)
        {
            return lines;
        }

        if (facts.ManufacturerId is int maker)
        {
            lines["Maker"] = string.Create(CultureInfo.InvariantCulture, $"manufacturer id 0x{maker:x2}{Oem(facts.OemId)}");
        }

        Add("Product", facts.ProductName is null ? null : $"{facts.ProductName} revision {facts.ProductRevision ?? "unknown"}");
        Add("Capacity, GB", facts.CapacityBytes is long bytes ? Figure.Of(bytes / 1e9, 2).Text : null);
        Add("Marks", Marks(facts));
        Add("Manufactured", facts.Manufactured?.ToString());
        Add("Serial number", facts.SerialNumber?.ToString("x8", CultureInfo.InvariantCulture));
        Add("Family", string.Join(", specification ", new[] { facts.Family, facts.SpecVersion }.Where(t => !string.IsNullOrEmpty(t))));
        Add("Register checksums", Checksums(facts));
        return lines;

        void Add(string name, string? value)
        {
            if (!string.IsNullOrEmpty(value))
            {
                lines[name] = value;
            }
        }
    }

    private static string Oem(int? oem) => oem is not int id ? ""
        : id >> 8 is > 32 and < 127 && (id & 255) is > 32 and < 127 ? $", OEM {(char)(id >> 8)}{(char)(id & 255)}"
        : string.Create(CultureInfo.InvariantCulture, $", OEM 0x{id:x4}");

    private static string? Marks(CardFacts facts)
    {
        if (facts.SpeedClass is null && facts.UhsGrade is null && facts.VideoClass is null && facts.ApplicationClass is null)
        {
            return null;
        }

        (string Letter, int? Value)[] all = [("C", facts.SpeedClass), ("U", facts.UhsGrade), ("V", facts.VideoClass), ("A", facts.ApplicationClass)];
        string marks = string.Join(' ', all.Where(m => m.Value is > 0).Select(m => m.Letter + Wording.Number(m.Value!.Value)));
        return marks.Length == 0 ? "none declared" : marks;
    }

    private static string? Checksums(CardFacts facts)
    {
        (string Name, CrcState? State)[] all = [("CID", facts.CidCrc), ("CSD", facts.CsdCrc)];
        return string.Join(", ", all.Where(r => r.State is not null).Select(r => r.Name + r.State switch
        {
            CrcState.Valid => " agrees",
            CrcState.Invalid => " does not agree",
            _ => " stripped by the host",
        }));
    }
}
