using Cardassay.Trials;

namespace Cardassay.Plans;

/// <summary>Conditions of the class trials and the words that plan files and results use for the classes.</summary>
public static class ClassConditions
{
    /// <summary>
    /// Range of the random trials of the application classes, bytes. From memory: the SD Association's pages do not state it.
    /// </summary>
    public const long ApplicationRangeBytes = 256L << 20;

    /// <summary>
    /// Allocation unit assumed where the card does not state its own, bytes: the largest of a card up to 32 GB (SD physical layer
    /// specification 4.10, 4.10.2). The trial is then not judgeable.
    /// </summary>
    public const long AssumedUnitBytes = 4L << 20;

    /// <summary>
    /// Allocation units a class write begins with that do not count: without the speed class command (CMD20, which Linux never sends) up to
    /// 1 s of preparation may fall into the first one (SD physical layer specification 4.10, 4.13.2.8 and 4.13.3.4).
    /// </summary>
    public const int LeftOutUnits = 1;

    /// <summary>Fewest allocation units of a class write, the one left out among them (a choice, no source).</summary>
    public const int LeastUnits = 3;

    /// <summary>
    /// Above this size an allocation unit is judged in parts of this size, bytes (SD physical layer
    /// specification 4.10, table 4-60).
    /// </summary>
    public const long PartBytes = 4L << 20;

    /// <summary>Bytes over which the speed of a class write is averaged: the allocation unit, or parts of a large one.</summary>
    public static long CountedBytes(long unitBytes) => unitBytes > PartBytes && unitBytes % PartBytes == 0 ? PartBytes : unitBytes;

    private static readonly (ClassStandard Standard, string Name, char Letter)[] Classes =
    [
        (ClassStandard.SpeedClass, "speed", 'C'),
        (ClassStandard.UhsGrade, "uhs", 'U'),
        (ClassStandard.VideoClass, "video", 'V'),
        (ClassStandard.ApplicationClass, "application", 'A'),
    ];

    /// <summary>Every word, as the key "class" of a step takes it.</summary>
    public static IReadOnlyList<string> Names { get; } = [.. Classes.Select(c => c.Name)];

    /// <summary>The word of a class; "" for none.</summary>
    public static string NameOf(ClassStandard standard) => Array.Find(Classes, c => c.Standard == standard).Name ?? "";

    /// <summary>The class of a word; none when there is no such word.</summary>
    public static ClassStandard Parse(string name) => Array.Find(Classes, c => c.Name == name).Standard;

    /// <summary>The class whose marks begin with a letter; none when there is no such letter.</summary>
    public static ClassStandard OfLetter(char letter) => Array.Find(Classes, c => c.Letter == letter).Standard;

    /// <summary>The letter the marks of a class begin with.</summary>
    public static char LetterOf(ClassStandard standard) => Array.Find(Classes, c => c.Standard == standard).Letter;
}
