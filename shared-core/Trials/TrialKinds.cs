namespace Cardassay.Trials;

/// <summary>
/// The kinds of trials, one row each: the name in plans, files and results, the words for people, what a kind does to the card, how its
/// figure is counted, and its block when a plan names none. Everything that names, orders or tells kinds apart asks here.
/// </summary>
public static class TrialKinds
{
    private const int Page = 4 << 10, Unit = 64 << 10, Recording = 512 << 10;

    /// <summary>What a kind does to the card.</summary>
    [Flags]
    private enum Moves
    {
        Reads = 1,
        Writes = 2,
    }

    /// <summary>
    /// In the order of every table: random read first, then random and synchronous write, sequential last. Blocks in bytes: 512 KiB is the
    /// recording unit of the SD speed grades (physical layer specification 4.10, 4.13); 4 KiB is the page of the kernel and of most
    /// databases; 64 KiB is the smallest unit the published open-segment measurements use (common practice, no source).
    /// </summary>
    private static readonly (TrialKind Kind, string Name, string Words, Moves Moves, bool CountsOperations, int BlockBytes)[] Rows =
    [
        (TrialKind.RandomRead, "randomRead", "random read", Moves.Reads, true, Page),
        (TrialKind.RandomWrite, "randomWrite", "random write", Moves.Writes, true, Page),
        (TrialKind.SynchronousWrite, "synchronousWrite", "synchronous write", Moves.Writes, true, Page),
        (TrialKind.Mixed, "mixed", "mixed", Moves.Reads | Moves.Writes, true, Page),
        (TrialKind.Transaction, "transaction", "transaction", Moves.Writes, true, Page),
        (TrialKind.BootRead, "bootRead", "boot read", Moves.Reads, true, 128 << 10),
        (TrialKind.PackageInstall, "packageInstall", "package install", Moves.Writes, true, 256 << 10),
        (TrialKind.DatabaseCommit, "databaseCommit", "database commit", Moves.Writes, true, Page),
        (TrialKind.LogAppend, "logAppend", "log append", Moves.Writes, true, Page),
        (TrialKind.Swap, "swap", "swap", Moves.Reads | Moves.Writes, true, 32 << 10),
        (TrialKind.SequentialRead, "sequentialRead", "sequential read", Moves.Reads, false, Recording),
        (TrialKind.SequentialWrite, "sequentialWrite", "sequential write", Moves.Writes, false, Recording),
        (TrialKind.SustainedWrite, "sustainedWrite", "sustained write", Moves.Writes, false, Recording),
        (TrialKind.Cliff, "cliff", "cliff", Moves.Writes, false, Recording),
        (TrialKind.OpenSegmentWrite, "openSegmentWrite", "open-segment write", Moves.Writes, false, Unit),
        (TrialKind.StallWatch, "stallWatch", "stall watch", Moves.Reads | Moves.Writes, true, Unit),
        (TrialKind.ClassRandomRead, "classRandomRead", "class random read", Moves.Reads, true, Page),
        (TrialKind.ClassRandomWrite, "classRandomWrite", "class random write", Moves.Writes, true, Page),
        (TrialKind.ClassWrite, "classWrite", "class write", Moves.Writes, false, Recording),
    ];

    private static readonly Dictionary<TrialKind, int> Places = Rows.Index().ToDictionary(r => r.Item.Kind, r => r.Index);

    /// <summary>Every kind, in the order of every table.</summary>
    public static IReadOnlyList<TrialKind> All { get; } = [.. Rows.Select(r => r.Kind)];

    /// <summary>Every name, in the same order.</summary>
    public static IReadOnlyList<string> Names { get; } = [.. Rows.Select(r => r.Name)];

    /// <summary>False for a kind that this version does not know.</summary>
    public static bool IsKnown(TrialKind kind) => Places.ContainsKey(kind);

    /// <summary>Position in <see cref="All"/>; behind the last for a kind that is not known.</summary>
    public static int PlaceOf(TrialKind kind) => Places.GetValueOrDefault(kind, Rows.Length);

    /// <summary>The name in plans, files and results ("randomRead"); that of no plan ("unknown") for a kind that is not known.</summary>
    public static string NameOf(TrialKind kind) => Places.TryGetValue(kind, out int place) ? Rows[place].Name : "unknown";

    /// <summary>The kind in words ("random read").</summary>
    public static string WordsOf(TrialKind kind) => Places.TryGetValue(kind, out int place) ? Rows[place].Words : "unknown";

    /// <summary>The kind of a name, or null.</summary>
    public static TrialKind? Parse(string name) =>
        Rows.Index().Where(r => r.Item.Name == name).Select(r => (TrialKind?)r.Item.Kind).FirstOrDefault();

    /// <summary>True when the kind writes.</summary>
    public static bool Writes(TrialKind kind) => Does(kind, Moves.Writes);

    /// <summary>True when the kind reads.</summary>
    public static bool Reads(TrialKind kind) => Does(kind, Moves.Reads);

    /// <summary>True when the kind both reads and writes, so that its reads are told apart from its writes.</summary>
    public static bool ReadsAndWrites(TrialKind kind) => Does(kind, Moves.Reads | Moves.Writes);

    /// <summary>
    /// True when the figure says something only of content that was written and known: a card may answer what was never written without
    /// looking. The few reads of a stall watch are not its figure.
    /// </summary>
    public static bool NeedsKnownContent(TrialKind kind) => Reads(kind) && kind != TrialKind.StallWatch;

    /// <summary>True when the kind is made under the condition of a class of the SD standard; block and depth are then fixed.</summary>
    public static bool IsClass(TrialKind kind) => kind is TrialKind.ClassWrite or TrialKind.ClassRandomRead or TrialKind.ClassRandomWrite;

    /// <summary>
    /// Times one operation waits for the card: once, or more often where it also flushes or writes several blocks. 0 where they are so many
    /// that the card's limit for one says nothing of the operation.
    /// </summary>
    public static int WaitsEach(TrialKind kind) => kind switch
    {
        TrialKind.DatabaseCommit or TrialKind.PackageInstall => 0,
        TrialKind.SynchronousWrite or TrialKind.LogAppend => 2,
        TrialKind.Transaction => 5, // three blocks and two flushes
        _ => 1,
    };

    /// <summary>True when its figure is operations per second; else it is bytes per second.</summary>
    public static bool CountsOperations(TrialKind kind) => !Places.TryGetValue(kind, out int place) || Rows[place].CountsOperations;

    /// <summary>
    /// True for kinds that are shown second by second: those that write, where a card's cache runs out and its housekeeping begins.
    /// </summary>
    public static bool ShowsTimeline(TrialKind kind) => Writes(kind) && kind is not (TrialKind.Mixed or TrialKind.Swap);

    /// <summary>Block when a plan names none, bytes.</summary>
    public static int DefaultBlockBytes(TrialKind kind) => Places.TryGetValue(kind, out int place) ? Rows[place].BlockBytes : Page;

    private static bool Does(TrialKind kind, Moves moves) => Places.TryGetValue(kind, out int place) && Rows[place].Moves.HasFlag(moves);
}
