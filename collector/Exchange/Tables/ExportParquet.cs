using Cardassay.Trust;
using Parquet;
using Parquet.Schema;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>
/// An export as Parquet, one file for each night in a folder named after it ("night=2031-03-12"), as most readers of Parquet
/// take apart. The column "night" stands in the files as well. Figures kept by hand without a day lie in "night=unknown".
/// </summary>
internal static class ExportParquet
{
    /// <summary>Relative path and rows of each file, by night.</summary>
    internal static IEnumerable<(string Path, IReadOnlyList<ExportRow> Rows)> Files(IEnumerable<ExportRow> rows) => rows
        .GroupBy(r => r.Night)
        .OrderBy(g => g.Key)
        .Select(g => ($"night={g.Key?.ToString("yyyy-MM-dd", System.Globalization.CultureInfo.InvariantCulture) ?? "unknown"}/figures.parquet", (IReadOnlyList<ExportRow>)[.. g]));

    /// <summary>Writes one file.</summary>
    internal static async Task WriteAsync(Stream to, IReadOnlyList<ExportRow> rows, CancellationToken cancellationToken)
    {
        DataField[] fields = [.. ExportColumns.All.Select(Field)];
        await using ParquetWriter writer = await ParquetWriter.CreateAsync(new ParquetSchema(fields), to, cancellationToken: cancellationToken);
        using ParquetRowGroupWriter group = writer.CreateRowGroup();
        for (int i = 0; i < fields.Length; i++)
        {
            ExportColumn column = ExportColumns.All[i];
            object?[] values = [.. rows.Select(column.Value)];
            switch (column.Type)
            {
                case ColumnType.Text:
                    await group.WriteAsync(fields[i], (string[])[.. values.Select(v => v is string text ? PlainText.Clean(text) : null)!]);
                    break;
                case ColumnType.Whole:
                    await group.WriteAsync<long>(fields[i], (long?[])[.. values.Select(v => (long?)v)], cancellationToken: cancellationToken);
                    break;
                case ColumnType.Number:
                    await group.WriteAsync<double>(fields[i], (double?[])[.. values.Select(v => (double?)v)], cancellationToken: cancellationToken);
                    break;
                default:
                    await group.WriteAsync<bool>(fields[i], (bool[])[.. values.Select(v => v is true)], cancellationToken: cancellationToken);
                    break;
            }
        }

        group.CompleteValidate();
    }

    private static DataField Field(ExportColumn column) => new(
        column.Name,
        column.Type switch { ColumnType.Whole => typeof(long), ColumnType.Number => typeof(double), ColumnType.Flag => typeof(bool), _ => typeof(string) },
        isNullable: column.Type != ColumnType.Flag);
}
