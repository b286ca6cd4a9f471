using Cardassay.Trials;

namespace Cardassay.Plans;

/// <summary>The names of the trial kinds in plan files and results, and what each does by default.</summary>
public static class PlanKinds
{
    private static readonly (TrialKind Kind, string Name)[] Names =
    [
        (TrialKind.SequentialWrite, "sequentialWrite"),
        (TrialKind.SequentialRead, "sequentialRead"),
        (TrialKind.RandomWrite, "randomWrite"),
        (TrialKind.RandomRead, "randomRead"),
        (TrialKind.SynchronousWrite, "synchronousWrite"),
        (TrialKind.Mixed, "mixed"),
        (TrialKind.Transaction, "transaction"),
        (TrialKind.SustainedWrite, "sustainedWrite"),
        (TrialKind.OpenSegmentWrite, "openSegmentWrite"),
        (TrialKind.StallWatch, "stallWatch"),
        (TrialKind.ClassWrite, "classWrite"),
        (TrialKind.ClassRandomRead, "classRandomRead"),
        (TrialKind.ClassRandomWrite, "classRandomWrite"),
    ];

    /// <summary>Every name, in the order results are described.</summary>
    public static IReadOnlyList<string> All { get; } = [.. Names.Select(pair => pair.Name)];

    /// <summary>The name of a kind.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The kind has no name here.</exception>
    public static string NameOf(TrialKind kind)
    {
        foreach ((TrialKind known, string name) in Names)
        {
            if (known == kind)
            {
                return name;
            }
        }

        throw new ArgumentOutOfRangeException(nameof(kind), kind, "This trial kind has no name.");
    }

    /// <summary>Finds the kind of a name; false when there is none.</summary>
    public static bool TryParse(string name, out TrialKind kind)
    {
        foreach ((TrialKind known, string knownName) in Names)
        {
            if (string.Equals(knownName, name, StringComparison.Ordinal))
            {
                kind = known;
                return true;
            }
        }

        kind = TrialKind.Unknown;
        return false;
    }

    /// <summary>True when the kind writes.</summary>
    public static bool Writes(TrialKind kind) => kind is not (TrialKind.SequentialRead or TrialKind.RandomRead or TrialKind.ClassRandomRead or TrialKind.Unknown);

    /// <summary>True when the kind reads.</summary>
    public static bool Reads(TrialKind kind) =>
        kind is TrialKind.SequentialRead or TrialKind.RandomRead or TrialKind.ClassRandomRead or TrialKind.Mixed or TrialKind.StallWatch;

    /// <summary>True when the kind is made under the condition of a class of the SD standard; block and depth are then fixed.</summary>
    public static bool IsClass(TrialKind kind) => kind is TrialKind.ClassWrite or TrialKind.ClassRandomRead or TrialKind.ClassRandomWrite;

    /// <summary>True when its figure of merit is operations per second; else it is bytes per second.</summary>
    public static bool CountsOperations(TrialKind kind) =>
        kind is not (TrialKind.SequentialRead or TrialKind.SequentialWrite or TrialKind.SustainedWrite or TrialKind.OpenSegmentWrite or TrialKind.ClassWrite);

    /// <summary>
    /// Block when the plan names none, bytes. 512 KiB is the recording unit of the SD speed grades (physical layer specification
    /// 4.10, 4.13); 4 KiB is the page of the kernel and of most databases; 64 KiB is the smallest unit the published open-segment
    /// measurements use (common practice, no source).
    /// </summary>
    public static int DefaultBlockBytes(TrialKind kind) => kind switch
    {
        TrialKind.SequentialRead or TrialKind.SequentialWrite or TrialKind.SustainedWrite or TrialKind.ClassWrite => 512 << 10,
        TrialKind.OpenSegmentWrite => 64 << 10,
        _ => 4 << 10,
    };

    /// <summary>Stall limit when the plan names none, ms: SD physical layer specification 4.10, 4.6.2.</summary>
    public static double DefaultStallLimitMs(TrialKind kind) => Writes(kind) ? 250 : 100;

    /// <summary>Bytes one operation transfers: the block, but for a transaction, which writes three.</summary>
    public static long BytesPerOperation(TrialKind kind, long blockBytes) =>
        kind == TrialKind.Transaction ? blockBytes * TransactionShape.WritesPerTransaction : blockBytes;
}
