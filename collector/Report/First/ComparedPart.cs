using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.First;

/// <summary>How far the groups in front lie apart, by the first card of each.</summary>
internal static class ComparedPart
{
    public static IEnumerable<string> Lines(ReportModel model)
    {
        string[] sure = [.. model.Steps.Where(s => s.FirstIsAhead)
            .Select(s => $"{s.One} over {s.Other} by {s.Figures[0].Low!.Text}–{s.Figures[0].High!.Text} %")];
        if (sure.Length > 0)
        {
            yield return $"Surely {string.Join(", ", sure)}.";
        }
    }
}
