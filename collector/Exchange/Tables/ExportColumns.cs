using System.Globalization;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;
using Cardassay.Judging;
using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>The columns of every export, in order. Never rename or retype one: files of years lie beside each other.</summary>
internal static class ExportColumns
{
    internal static IReadOnlyList<ExportColumn> All { get; } =
    [
        Text("night", r => r.Night?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture)),
        Text("tag", r => r.Tag),
        Text("identity", r => r.Identity),
        Text("maker", r => r.Claim?.Maker),
        Text("product", r => r.Claim?.Product),
        Number("label_gigabytes", r => (double?)r.Claim?.LabelGigabytes),
        Text("condition", r => r.Claim?.Condition switch { CardCondition.New => "new", CardCondition.Used => "used", _ => null }),
        Text("metric", r => Metrics.NameOf(r.Kind)),
        Number("figure", r => r.Figure),
        Text("unit", r => Metrics.UnitOf(r.Kind)),
        Flag("counts", r => r.SetAside.Length == 0),
        Text("set_aside", r => r.SetAside.Length > 0 ? r.SetAside : null),
        Text("kept_by_hand", r => r.Provenance.Length > 0 ? r.Provenance : null),
        Text("board", r => r.Run?.Board),
        Text("board_model", r => r.Run?.Opened.BoardModel),
        Text("run_opened_utc", r => r.Run?.OpenedAt.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture)),
        Text("plan", r => r.Run?.Opened.PlanName),
        Text("plan_version", r => r.Run?.Opened.PlanVersion),
        Text("target", r => r.Run?.Opened.Target switch { TargetKind.Device => "device", TargetKind.Folder => "folder", _ => null }),
        Text("attachment", r => r.Run?.Opened.Attachment switch { Attachment.Slot => "slot", Attachment.Reader => "reader", Attachment.Fixed => "fixed", _ => null }),
        Text("file_system", r => r.Run?.Opened.FileSystem),
        Text("bus_mode", r => r.Trial?.Trial.Before.BusMode),
        Text("governor", r => r.Trial?.Trial.Before.Governor),
        Number("hottest_celsius", r => Hottest(r.Trial?.Trial)),
        Whole("repetition", r => r.Trial?.Trial.Repetition),
        Text("role", r => r.Trial?.Trial.Role switch { TrialRole.WarmUp => "warm-up", TrialRole.Closing => "closing", TrialRole.Measured => "measured", _ => null }),
        Whole("block_bytes", r => r.Trial?.Trial.BlockBytes),
        Whole("queue_depth", r => r.Trial?.Trial.QueueDepth),
        Whole("operations", r => r.Trial?.Trial.Operations),
        Whole("bytes", r => r.Trial?.Trial.Bytes),
        Whole("elapsed_ns", r => r.Trial?.Trial.ElapsedNs),
        Whole("stalls", r => r.Trial?.Trial.StallCount),
        Text("journal_epoch", r => r.Trial?.Key.Epoch),
        Whole("journal_sequence", r => r.Trial?.Key.Sequence),
        Text("range", r => r.Trial is { } t && AddressRange.Of(t.Trial, r.Run?.Card?.DiskBytes ?? 0).Text is { Length: > 0 } range ? range : null),
        Text("written_before", r => r.Trial is { } t && CardFills.TextOf(CardFills.Of(t.Trial, r.Run?.Card?.DiskBytes ?? 0)) is { Length: > 0 } fill ? fill : null),
        Whole("pass", r => r.Trial?.Trial.Pass is > 0 and var pass ? pass : null),
        Flag("invented", r => r.Run?.Opened.Invented ?? r.Claim?.Invented ?? false),
    ];

    private static double? Hottest(TrialMeasured? trial)
    {
        if (trial is null)
        {
            return null;
        }

        long[] all = [.. trial.During.Prepend(trial.Before).Append(trial.After).SelectMany(c => c.Temperatures).Select(t => t.MilliCelsius)];
        return all.Length == 0 ? null : all.Max() / 1000.0;
    }

    private static ExportColumn Text(string name, Func<ExportRow, string?> value) => new(name, ColumnType.Text, value);

    private static ExportColumn Whole(string name, Func<ExportRow, long?> value) => new(name, ColumnType.Whole, r => value(r));

    private static ExportColumn Number(string name, Func<ExportRow, double?> value) => new(name, ColumnType.Number, r => value(r));

    private static ExportColumn Flag(string name, Func<ExportRow, bool> value) => new(name, ColumnType.Flag, r => value(r));
}
