using System.Globalization;
using System.Text;
using CsvHelper;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>A table as CSV: RFC 4180, UTF-8, CRLF, a header line; unknown is empty. Text a spreadsheet would run is guarded as in the report's CSV.</summary>
internal static class ExportCsv
{
    private const int BufferBytes = 64 * 1024;

    /// <summary>Writes the table row by row.</summary>
    /// <param name="to">Where, as UTF-8; it stays open.</param>
    /// <param name="table">The table.</param>
    /// <param name="decimalComma">True for spreadsheets of a locale that writes 12,5: cells are then parted by semicolons.</param>
    internal static void Write(Stream to, ExportTable table, bool decimalComma = false)
    {
        using var text = new StreamWriter(to, new UTF8Encoding(encoderShouldEmitUTF8Identifier: false), BufferBytes, leaveOpen: true);
        var options = new CsvWriterOptions { NewLine = "\r\n", FormatProvider = CultureInfo.InvariantCulture, WriteByteOrderMark = false, Separator = decimalComma ? ';' : ',' };
        using CsvWriter csv = CsvWriter.Create(text, options, leaveOpen: true);
        foreach (ExportColumn column in table.Columns)
        {
            csv.WriteField(column.Name);
        }

        csv.EndRecord();
        foreach (object?[] row in table.Rows)
        {
            foreach (object? value in row)
            {
                csv.WriteField(Cell(value, decimalComma));
            }

            csv.EndRecord();
        }
    }

    private static string Cell(object? value, bool decimalComma) => value switch
    {
        null => "",
        string text => Report.CsvReport.Guarded(text),
        bool flag => flag ? "yes" : "no",
        double number when decimalComma => number.ToString("R", CultureInfo.InvariantCulture).Replace('.', ','),
        double number => number.ToString("R", CultureInfo.InvariantCulture),
        DateOnly or DateTimeOffset => ExportJson.Stamp(value),
        IFormattable other => other.ToString(null, CultureInfo.InvariantCulture),
        _ => "",
    };
}
