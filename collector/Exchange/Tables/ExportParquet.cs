using System.Globalization;
using Cardassay.Trust;
using Parquet;
using Parquet.Schema;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>
/// The data set as Parquet: cards.parquet, runs.parquet, and a folder figures with one file for each night, which readers of Parquet open as one table. A night is
/// a column of days in the files and no key in a folder's name, which readers would guess a type for. Units and meanings stand in the metadata of each column.
/// </summary>
internal static class ExportParquet
{
    /// <summary>Relative path, table and rows of each file.</summary>
    internal static IEnumerable<(string Path, ExportTable Table, IReadOnlyList<object?[]> Rows)> Files(IEnumerable<ExportTable> tables) => tables.SelectMany(table =>
        table.Columns[0].Name != "night"
            ? [($"{table.Name}.parquet", table, (IReadOnlyList<object?[]>)[.. table.Rows])]
            : table.Rows.GroupBy(r => (DateOnly?)r[0]).OrderBy(g => g.Key)
                .Select(g => ($"{table.Name}/{g.Key?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture) ?? "no-day"}.parquet", table, (IReadOnlyList<object?[]>)[.. g])));

    /// <summary>Writes one file.</summary>
    internal static async Task WriteAsync(Stream to, ExportTable table, IReadOnlyList<object?[]> rows, CancellationToken cancellationToken)
    {
        DataField[] fields = [.. table.Columns.Select(Field)];
        await using ParquetWriter writer = await ParquetWriter.CreateAsync(new ParquetSchema(fields), to, cancellationToken: cancellationToken);
        writer.CustomMetadata = new Dictionary<string, string> { ["table"] = table.Name, ["meaning"] = table.Meaning, ["schema"] = ExportSchema.Of([table]) };
        using ParquetRowGroupWriter group = writer.CreateRowGroup();
        for (int i = 0; i < fields.Length; i++)
        {
            ExportColumn column = table.Columns[i];
            var about = new Dictionary<string, string> { ["unit"] = column.Unit, ["meaning"] = column.Meaning };
            switch (column.Type)
            {
                case ColumnType.Text:
                    await group.WriteAsync(fields[i], (string[])[.. rows.Select(r => r[i] is string text ? PlainText.Clean(text) : null)!]);
                    break;
                case ColumnType.Whole:
                    await group.WriteAsync<long>(fields[i], Values<long>(rows, i), customMetadata: about, cancellationToken: cancellationToken);
                    break;
                case ColumnType.Number:
                    await group.WriteAsync<double>(fields[i], Values<double>(rows, i), customMetadata: about, cancellationToken: cancellationToken);
                    break;
                case ColumnType.Day:
                    await group.WriteAsync<DateOnly>(fields[i], Values<DateOnly>(rows, i), customMetadata: about, cancellationToken: cancellationToken);
                    break;
                case ColumnType.Moment:
                    await group.WriteAsync<DateTime>(
                        fields[i], (DateTime?[])[.. rows.Select(r => r[i] is DateTimeOffset at ? at.UtcDateTime : (DateTime?)null)], customMetadata: about, cancellationToken: cancellationToken);
                    break;
                default:
                    await group.WriteAsync<bool>(fields[i], (bool[])[.. rows.Select(r => r[i] is true)], customMetadata: about, cancellationToken: cancellationToken);
                    break;
            }
        }

        group.CompleteValidate();
    }

    private static T?[] Values<T>(IReadOnlyList<object?[]> rows, int column)
        where T : struct => [.. rows.Select(r => (T?)r[column])];

    private static DataField Field(ExportColumn column) => column.Type switch
    {
        ColumnType.Whole => new DataField<long?>(column.Name),
        ColumnType.Number => new DataField<double?>(column.Name),
        ColumnType.Flag => new DataField<bool>(column.Name),
        ColumnType.Day => new DataField<DateOnly?>(column.Name),
        ColumnType.Moment => new DateTimeDataField(column.Name, DateTimeFormat.Timestamp, isAdjustedToUTC: true, unit: DateTimeTimeUnit.Millis, isNullable: true),
        _ => new DataField(column.Name, typeof(string), isNullable: true),
    };
}
