using System.Text.Json;
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
        (TrialKind.Cliff, "cliff"),
        (TrialKind.BootRead, "bootRead"),
        (TrialKind.PackageInstall, "packageInstall"),
        (TrialKind.DatabaseCommit, "databaseCommit"),
        (TrialKind.LogAppend, "logAppend"),
        (TrialKind.Swap, "swap"),
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

    /// <summary>The kind in words: "random read", "open-segment write"; also one that no plan can name.</summary>
    public static string WordsOf(TrialKind kind) =>
        string.Concat(JsonNamingPolicy.CamelCase.ConvertName(kind.ToString()).Select(c => char.IsAsciiLetterUpper(c) ? $" {char.ToLowerInvariant(c)}" : c.ToString()))
            .Replace("open segment", "open-segment", StringComparison.Ordinal);

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
    public static bool Writes(TrialKind kind) => kind is not (TrialKind.SequentialRead or TrialKind.RandomRead or TrialKind.ClassRandomRead or TrialKind.BootRead or TrialKind.Unknown);

    /// <summary>True when the kind reads.</summary>
    public static bool Reads(TrialKind kind) =>
        kind is TrialKind.SequentialRead or TrialKind.RandomRead or TrialKind.ClassRandomRead or TrialKind.BootRead || ReadsAndWrites(kind);

    /// <summary>True when the kind both reads and writes, so that its reads are told apart from its writes.</summary>
    public static bool ReadsAndWrites(TrialKind kind) => kind is TrialKind.Mixed or TrialKind.StallWatch or TrialKind.Swap;

    /// <summary>True when the kind is made under the condition of a class of the SD standard; block and depth are then fixed.</summary>
    public static bool IsClass(TrialKind kind) => kind is TrialKind.ClassWrite or TrialKind.ClassRandomRead or TrialKind.ClassRandomWrite;

    /// <summary>True when its figure of merit is operations per second; else it is bytes per second.</summary>
    public static bool CountsOperations(TrialKind kind) =>
        kind is not (TrialKind.SequentialRead or TrialKind.SequentialWrite or TrialKind.SustainedWrite or TrialKind.OpenSegmentWrite or TrialKind.ClassWrite or TrialKind.Cliff);

    /// <summary>
    /// Block when the plan names none, bytes. 512 KiB is the recording unit of the SD speed grades (physical layer specification
    /// 4.10, 4.13); 4 KiB is the page of the kernel and of most databases; 64 KiB is the smallest unit the published open-segment
    /// measurements use (common practice, no source).
    /// </summary>
    public static int DefaultBlockBytes(TrialKind kind) => kind switch
    {
        TrialKind.SequentialRead or TrialKind.SequentialWrite or TrialKind.SustainedWrite or TrialKind.ClassWrite or TrialKind.Cliff => 512 << 10,
        TrialKind.OpenSegmentWrite or TrialKind.StallWatch => 64 << 10,
        TrialKind.BootRead => 128 << 10,
        TrialKind.Swap => 32 << 10,
        TrialKind.PackageInstall => 256 << 10,
        _ => 4 << 10,
    };

    /// <summary>Stall limit when the plan names none, ms: SD physical layer specification 4.10, 4.6.2.</summary>
    public static double DefaultStallLimitMs(TrialKind kind) => Writes(kind) ? 250 : 100;

    /// <summary>Stall limit for the reads of a kind that reads and writes, ms: the same.</summary>
    public const double ReadStallLimitMs = 100;

    /// <summary>Bytes one operation transfers at the most, as the mean over many: the block, but for a transaction, which writes three, and a commit, which writes two.</summary>
    public static long BytesPerOperation(TrialKind kind, long blockBytes) => kind switch
    {
        TrialKind.Transaction => blockBytes * TransactionShape.WritesPerTransaction,
        TrialKind.DatabaseCommit => blockBytes * 2,
        _ => blockBytes,
    };
}
