using System.Globalization;
using CsvHelper;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>An export as CSV: RFC 4180, UTF-8, CRLF, a header line; unknown is empty. Text a spreadsheet would run is guarded as in the report's CSV.</summary>
internal static class ExportCsv
{
    internal static string Render(IEnumerable<ExportRow> rows)
    {
        using var text = new StringWriter(CultureInfo.InvariantCulture);
        var options = new CsvWriterOptions { NewLine = "\r\n", FormatProvider = CultureInfo.InvariantCulture, WriteByteOrderMark = false };
        using (CsvWriter csv = CsvWriter.Create(text, options, leaveOpen: true))
        {
            foreach (ExportColumn column in ExportColumns.All)
            {
                csv.WriteField(column.Name);
            }

            csv.EndRecord();
            foreach (ExportRow row in rows)
            {
                foreach (ExportColumn column in ExportColumns.All)
                {
                    csv.WriteField(Cell(column.Value(row)));
                }

                csv.EndRecord();
            }
        }

        return text.ToString();
    }

    private static string Cell(object? value) => value switch
    {
        null => "",
        string text => Report.CsvReport.Guarded(text),
        bool flag => flag ? "yes" : "no",
        double number => number.ToString("R", CultureInfo.InvariantCulture),
        IFormattable other => other.ToString(null, CultureInfo.InvariantCulture),
        _ => "",
    };
}
