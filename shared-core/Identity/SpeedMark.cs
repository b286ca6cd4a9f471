using System.Globalization;
using Cardassay.Registers;

namespace Cardassay.Identity;

/// <summary>
/// One speed mark of the SD standard as printed on cards: C2 C4 C6 C10, U1 U3, V6 V10 V30 V60 V90, A1 A2 (SD Association, public
/// pages). A higher level of a kind includes the lower ones.
/// </summary>
/// <param name="Kind">'C' speed class, 'U' UHS speed grade, 'V' video speed class, 'A' application performance class.</param>
/// <param name="Level">The number behind the letter.</param>
public readonly record struct SpeedMark(char Kind, int Level)
{
    /// <summary>Every mark there is, as printed.</summary>
    public static IReadOnlyList<string> Known { get; } =
        ["C2", "C4", "C6", "C10", "U1", "U3", "V6", "V10", "V30", "V60", "V90", "A1", "A2"];

    /// <summary>Reads a mark in either case; false when there is no such mark.</summary>
    public static bool TryParse(string? text, out SpeedMark mark)
    {
        string upper = (text ?? "").Trim().ToUpperInvariant();
        bool known = Known.Contains(upper);
        mark = known ? new SpeedMark(upper[0], int.Parse(upper[1..], NumberStyles.None, CultureInfo.InvariantCulture)) : default;
        return known;
    }

    /// <summary>The level the card declares for a kind in SD Status: 0 for none, null for a code the standard does not define.</summary>
    public static int? DeclaredLevel(SdStatus status, char kind) => kind switch
    {
        'C' => status.SpeedClass,
        'U' => status.UhsGrade is 0 or 1 or 3 ? status.UhsGrade : null,
        'V' => status.VideoClass is 0 or 6 or 10 or 30 or 60 or 90 ? status.VideoClass : null,
        'A' => status.ApplicationClass is 0 or 1 or 2 ? status.ApplicationClass : null,
        _ => null,
    };

    /// <summary>The marks the card declares, highest of each kind.</summary>
    public static IReadOnlyList<SpeedMark> DeclaredBy(SdStatus status) =>
        [.. "CUVA".Select(kind => new SpeedMark(kind, DeclaredLevel(status, kind) ?? 0)).Where(mark => mark.Level > 0)];

    /// <summary>As printed on the card.</summary>
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{Kind}{Level}");
}
