using System.Globalization;
using Cardassay.Collector.Report.Model;
using Cardassay.Trust;
using CsvHelper;

namespace Cardassay.Collector.Report;

/// <summary>
/// The figures as a table for a spreadsheet: RFC 4180, one row per card and metric (one row without figures for a card
/// without any), UTF-8, CRLF.
/// <para>
/// Tags, product and board names come from outside. A text cell that a spreadsheet would run as a formula (it begins with
/// = @ + - or what was a tab or another control) gets a leading apostrophe; numbers never do.
/// </para>
/// </summary>
public static class CsvReport
{
    private static readonly string[] Header =
    [
        "tag", "identity", "product", "condition", "price", "verdict", "rank_best", "rank_worst", "rank_of", "rank_provisional",
        "metric", "series", "unit", "median", "low", "high", "runs", "bounds", "settled", "metric_rank_best", "metric_rank_worst",
        "minimum", "maximum", "mad", "cv_percent", "contradictions", "doubts", "generated_for", "notice", "marks", "integrity", "verdict_basis", "rank_note",
    ];

    /// <summary>Renders the model as CSV text.</summary>
    public static string Render(ReportModel model)
    {
        using var text = new StringWriter(CultureInfo.InvariantCulture);
        var options = new CsvWriterOptions { NewLine = "\r\n", FormatProvider = CultureInfo.InvariantCulture, WriteByteOrderMark = false };
        using (CsvWriter csv = CsvWriter.Create(text, options, leaveOpen: true))
        {
            foreach (string column in Header)
            {
                csv.WriteField(column);
            }

            csv.EndRecord();
            if (model.Cards.Count == 0 && Wording.LossClause(model.Integrity).Length > 0)
            {
                LossRow(csv, model);
            }

            foreach (ReportCard card in model.Cards)
            {
                if (card.Metrics.Count == 0)
                {
                    Row(csv, model, card, null);
                }

                foreach (ReportMetric metric in card.Metrics)
                {
                    Row(csv, model, card, metric);
                }
            }
        }

        return text.ToString();
    }

    private static void Row(CsvWriter csv, ReportModel model, ReportCard card, ReportMetric? metric)
    {
        string[] texts = [card.Tag ?? "", card.Identity ?? "", card.Product, card.Condition, card.Price ?? "", card.Verdict];
        foreach (string text in texts)
        {
            csv.WriteField(Guarded(text));
        }

        Numbers(csv, card.Rank?.Best, card.Rank?.Worst, card.Rank?.Of);
        csv.WriteField(card.Rank is null ? "" : card.Rank.Provisional ? "yes" : "no");
        csv.WriteField(metric?.Key ?? "");
        csv.WriteField(Guarded(metric?.Series ?? ""));
        string[] figures =
        [
            metric?.Unit ?? "", metric?.Median.Text ?? "", metric?.Low.Text ?? "", metric?.High.Text ?? "", metric?.Count ?? "",
            metric?.Bounds ?? "", metric?.Settled ?? "",
        ];
        foreach (string figure in figures)
        {
            csv.WriteField(PlainText.Clean(figure));
        }

        Numbers(csv, metric?.Rank?.Best, metric?.Rank?.Worst);
        string[] spread =
        [
            metric?.Minimum.Text ?? "", metric?.Maximum.Text ?? "", metric?.Mad?.Text ?? "", metric?.CvPercent?.Text ?? "",
        ];
        foreach (string figure in spread)
        {
            csv.WriteField(PlainText.Clean(figure));
        }

        Numbers(csv, card.Findings.Count(f => f.Severity == "contradiction"), card.Findings.Count(f => f.Severity == "doubt"));
        csv.WriteField(Guarded(model.GeneratedFor));
        csv.WriteField(model.Invented ? Wording.Invented : "");
        csv.WriteField(Guarded(string.Join(" ", card.Marks.Select(m => m.Line))));
        csv.WriteField(Wording.IntegrityLine(model.Integrity));
        csv.WriteField(Guarded(card.VerdictBasis));
        csv.WriteField(Guarded(Wording.RankNote(card)));
        csv.EndRecord();
    }

    /// <summary>A row of nothing but the integrity line: a log that lost everything must not look like a laboratory without cards.</summary>
    private static void LossRow(CsvWriter csv, ReportModel model)
    {
        foreach (string column in Header)
        {
            csv.WriteField(column switch
            {
                "generated_for" => model.GeneratedFor,
                "integrity" => Wording.IntegrityLine(model.Integrity),
                _ => "",
            });
        }

        csv.EndRecord();
    }

    private static void Numbers(CsvWriter csv, params ReadOnlySpan<int?> values)
    {
        foreach (int? value in values)
        {
            csv.WriteField(value?.ToString(CultureInfo.InvariantCulture) ?? "");
        }
    }

    // CsvHelper's own guard looks at every field, numbers too, and would write a negative one as text.
    internal static string Guarded(string text)
    {
        string clean = PlainText.Clean(text);
        return clean.Length > 0 && "=@+-\uFFFD".Contains(clean[0], StringComparison.Ordinal) ? "'" + clean : clean;
    }
}
