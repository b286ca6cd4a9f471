using Cardassay.Json;
using System.Globalization;
using Cardassay.Trials;

namespace Cardassay.Plans;

/// <summary>Reads one step of a plan.</summary>
internal static class PlanStepReader
{
    /// <summary>Longest trial, seconds. Only kinds that look for rare or late events may be longer than five minutes.</summary>
    private const double MaxSeconds = 300;
    private const double MaxLongSeconds = 86_400;
    private const long MaxInFlightBytes = 64 << 20;

    public static PlanStep Read(PlanSource source, JsonValue node)
    {
        var step = new PlanObject(
            source, node, "kind", "repetitions", "blockBytes", "queueDepth", "range", "seconds", "bytes", "operations", "stallLimitMs",
            "readPercent", "openSegments", "segmentBytes", "extending", "pauseMs", "untilSteady", "writesPerSecond", "class");
        TrialKind kind = Kind(step);
        ClassStandard standard = Standard(step, kind);
        bool isLong = kind is TrialKind.SustainedWrite or TrialKind.StallWatch;
        int blockBytes = (int)(step.Bytes("blockBytes", 4096, 16 << 20, 4096) ?? TrialKinds.DefaultBlockBytes(kind));
        var read = new PlanStep
        {
            Kind = kind,
            Repetitions = step.Integer("repetitions", 1, 500) is { } count ? Repetitions.Fixed(count) : null,
            BlockBytes = blockBytes,
            QueueDepth = step.Integer("queueDepth", 1, 64) ?? (kind == TrialKind.Swap ? 2 : 1),
            Range = step.Find("range") is { } range ? Range(source, range) : null,
            Seconds = step.Number("seconds", 0.05, isLong ? MaxLongSeconds : MaxSeconds)
                ?? throw step.Wrong("seconds", "The key is missing", "Add \"seconds\": 10, the longest time of one trial"),
            Bytes = step.Bytes("bytes", blockBytes, 1L << 44, 1),
            Operations = step.Number("operations", 1, 1e12) is { } operations ? (long)operations : null,
            StallLimitMs = step.Number("stallLimitMs", 0.001, 3_600_000) ?? PlanKinds.DefaultStallLimitMs(kind),
            Standard = standard,
            ReadPercent = Only(step, "readPercent", kind, TrialKind.Mixed) ? step.Integer("readPercent", 1, 99) ?? 70 : 0,
            OpenSegments = Only(step, "openSegments", kind, TrialKind.OpenSegmentWrite) ? step.Integer("openSegments", 1, 64) ?? 4 : 0,
            SegmentBytes = Only(step, "segmentBytes", kind, TrialKind.OpenSegmentWrite)
                ? step.Bytes("segmentBytes", 64 << 10, 1 << 30, 4096) ?? 0
                : 0,
            Extending = Only(step, "extending", kind, TrialKind.SynchronousWrite) && step.Flag("extending", false),
            PauseMs = step.Number("pauseMs", 0, 10_000) ?? 0,
            UntilSteady = step.Integer("untilSteady", SteadyState.WindowRounds, 100) ?? 0,
            WritesPerSecond = Only(step, "writesPerSecond", kind, TrialKind.StallWatch)
                ? step.Number("writesPerSecond", 0.1, 500) ?? PlanStep.DefaultWritesPerSecond
                : 0,
        };
        Check(step, read);
        return read;
    }

    private static TrialKind Kind(PlanObject step)
    {
        string name = step.RequiredText("kind", "\"randomRead\"");
        if (name == ProofStepReader.Kind)
        {
            throw step.Wrong("kind", "A capacity proof overwrites the whole device",
                "Make it the first step, and the only one of its kind");
        }

        return TrialKinds.Parse(name)
            ?? throw step.Wrong("kind", $"\"{name}\" is no kind of trial", NearestName.Advice(name, [.. TrialKinds.Names]));
    }

    private static ClassStandard Standard(PlanObject step, TrialKind kind)
    {
        if (!TrialKinds.IsClass(kind))
        {
            return step.Find("class") is null
                ? ClassStandard.None
                : throw step.Wrong("class", $"A step of kind {TrialKinds.NameOf(kind)} has no such key",
                    "Remove it, or make the step classWrite");
        }

        foreach (string fixedKey in (string[])["blockBytes", "queueDepth", "pauseMs"])
        {
            if (step.Find(fixedKey) is not null)
            {
                throw step.Wrong(fixedKey, "The class fixes it", "Remove the key");
            }
        }

        string name = step.RequiredText("class", "\"video\"");
        ClassStandard standard = ClassConditions.Parse(name);
        bool isRandom = kind != TrialKind.ClassWrite;
        if (standard == ClassStandard.None || (isRandom && standard != ClassStandard.ApplicationClass))
        {
            string choices = isRandom ? "\"application\"" : string.Join(", ", ClassConditions.Names.Select(c => $"\"{c}\""));
            throw step.Wrong("class", $"\"{name}\" is no class of such a trial", $"Write one of {choices}");
        }

        return isRandom && step.Find("range") is not null
            ? throw step.Wrong("range", "The class fixes it: the first 256 MiB", "Remove the range")
            : standard;
    }

    private static bool Only(PlanObject step, string key, TrialKind kind, TrialKind meant)
    {
        if (kind != meant && step.Find(key) is not null)
        {
            throw step.Wrong(key, $"A step of kind {TrialKinds.NameOf(kind)} has no such key",
                $"Remove it, or make the step {TrialKinds.NameOf(meant)}");
        }

        return kind == meant;
    }

    private static void Check(PlanObject step, PlanStep read)
    {
        if (read.Kind == TrialKind.Cliff)
        {
            // Its figure means something only in space that nothing of the run has written, which no step of a round has.
            throw step.Wrong(
                "kind", "A cliff needs space that nothing of this run has written, which a step of a round does not have",
                "Write sustainedWrite, or make it the first step");
        }

        if (read.UntilSteady > 0 && (!read.Writes || read.Reads))
        {
            throw step.Wrong("untilSteady", $"A step of kind {TrialKinds.NameOf(read.Kind)} does not only write", "Remove the key");
        }

        if (read.Writes && read.Bytes is null)
        {
            throw step.Wrong("bytes", "The key is missing", "Add \"bytes\": \"128 MiB\", the most that one trial may write");
        }

        if (read.Kind == TrialKind.Swap && read.QueueDepth != 2)
        {
            throw step.Wrong("queueDepth", "A swap trial is one writer beside one reader", "Write 2, or remove the key");
        }

        if (read.Kind is TrialKind.BootRead or TrialKind.DatabaseCommit or TrialKind.LogAppend && step.Find("blockBytes") is not null)
        {
            throw step.Wrong("blockBytes", "The kind fixes it", "Remove the key");
        }

        bool oneByOne = read.Extending || read.Kind is TrialKind.Transaction or TrialKind.OpenSegmentWrite or TrialKind.StallWatch
            or TrialKind.DatabaseCommit or TrialKind.LogAppend or TrialKind.PackageInstall or TrialKind.Cliff;
        if (oneByOne && read.QueueDepth != 1)
        {
            throw step.Wrong("queueDepth", "This step is defined one operation at a time", "Write 1");
        }

        if ((long)read.BlockBytes * read.QueueDepth > MaxInFlightBytes)
        {
            throw step.Wrong("queueDepth", "blockBytes times queueDepth is more than 64 MiB", "Write a smaller number");
        }

        if (read.Kind == TrialKind.StallWatch && step.Find("pauseMs") is not null)
        {
            throw step.Wrong("pauseMs", "A stall watch is paced by its writes", "Write \"writesPerSecond\" instead");
        }

        if (read.Kind == TrialKind.OpenSegmentWrite && read.SegmentBytes % read.BlockBytes != 0)
        {
            throw step.Wrong("segmentBytes",
                string.Create(CultureInfo.InvariantCulture, $"{read.SegmentBytes} is not a multiple of blockBytes"),
                "Write a multiple of blockBytes");
        }

        if (read.Extending && read.Range is not null)
        {
            throw step.Wrong("range", "An extending write begins at the end of the scratch file", "Remove the range");
        }
    }

    private static PlanRange Range(PlanSource source, JsonValue node)
    {
        var range = new PlanObject(source, node, "startBytes", "startPercent", "bytes", "percent");
        Either(range, "startBytes", "startPercent");
        Either(range, "bytes", "percent");
        if (range.Find("bytes") is null && range.Find("percent") is null)
        {
            throw range.Wrong("bytes", "The key is missing", "Add \"bytes\": \"256 MiB\", or \"percent\": 100");
        }

        return new PlanRange
        {
            StartBytes = range.Bytes("startBytes", 0, 1L << 44, PlanRange.AlignBytes),
            StartPercent = range.Number("startPercent", 0, 100),
            Bytes = range.Bytes("bytes", 64 << 10, 1L << 44, PlanRange.AlignBytes),
            Percent = range.Number("percent", 0.001, 100),
        };
    }

    private static void Either(PlanObject range, string first, string second)
    {
        if (range.Find(first) is not null && range.Find(second) is not null)
        {
            throw range.Wrong(second, $"\"{first}\" is given too", "Keep one of the two");
        }
    }
}
