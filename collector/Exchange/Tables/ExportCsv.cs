using System.Globalization;
using System.Text;
using CsvHelper;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>An export as CSV: RFC 4180, UTF-8, CRLF, a header line; unknown is empty. Text a spreadsheet would run is guarded as in the report's CSV.</summary>
internal static class ExportCsv
{
    private const int BufferBytes = 64 * 1024;

    /// <summary>Writes the table row by row.</summary>
    /// <param name="to">Where, as UTF-8; it stays open.</param>
    /// <param name="rows">The figures.</param>
    internal static void Write(Stream to, IEnumerable<ExportRow> rows)
    {
        using var text = new StreamWriter(to, new UTF8Encoding(encoderShouldEmitUTF8Identifier: false), BufferBytes, leaveOpen: true);
        var options = new CsvWriterOptions { NewLine = "\r\n", FormatProvider = CultureInfo.InvariantCulture, WriteByteOrderMark = false };
        using CsvWriter csv = CsvWriter.Create(text, options, leaveOpen: true);
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
