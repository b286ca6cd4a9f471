namespace Cardassay.Trials;

/// <summary>
/// The class of the SD standard under whose condition a trial was made. The numbers are part of the wire format: never renumber.
/// </summary>
public enum ClassStandard
{
    /// <summary>None: an ordinary trial.</summary>
    None = 0,

    /// <summary>Speed class, C2 to C10 (SD physical layer specification 4.10, 4.13).</summary>
    SpeedClass = 1,

    /// <summary>UHS speed grade, U1 and U3 (the same, 4.13).</summary>
    UhsGrade = 2,

    /// <summary>Video speed class, V6 to V90 (SD Association, public pages).</summary>
    VideoClass = 3,

    /// <summary>Application performance class, A1 and A2 (SD Association, public pages).</summary>
    ApplicationClass = 4,
}
