using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Exchange.Tables;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Collector.Tests.Report;
using Cardassay.Trust;
using Cardassay.Wire;
using Json.Schema;
using ParquetSharp;

namespace Cardassay.Collector.Tests.Exchange;

public sealed class ExportTests
{
    private static readonly IReadOnlyList<ExportRow> Rows = RowsOf();

    [Fact]
    public void Of_EveryTrialAndFigure_IsOneRowAndThoseThatCountAreThoseOfTheReport()
    {
        using MemoryRecordStore store = EntryStore.Of(ExchangeSamples.Entries(nights: 2));
        MasterData data = MasterDataLoader.Load(store);
        Assert.Equal(data.Runs.Sum(r => r.Trials.Count) + data.HandKept.Count, Rows.Count);
        Assert.Equal(
            Analyser.Run(data, UseProfile.SystemDisk, new AnalysisOptions()).Cards.Sum(c => c.Metrics.Sum(m => m.N)),
            Rows.Count(r => r is { SetAside: "", Trial: not null }));
        Assert.Contains(Rows, r => r.SetAside.Length > 0);
    }

    [Fact]
    public void Csv_ReadByTheGrammarOfRfc4180_GivesEveryCell()
    {
        List<string[]> table = Rfc4180.Parse(Csv(Rows));
        Assert.Equal(ExportColumns.All.Select(c => c.Name), table[0]);
        Assert.Equal(Rows.Count + 1, table.Count);
        int figure = Array.IndexOf(table[0], "figure");
        Assert.Equal(Rows.Select(r => r.Figure), table.Skip(1).Select(r => double.Parse(r[figure], CultureInfo.InvariantCulture)));
    }

    [Theory]
    [InlineData("=1+1")]
    [InlineData("+1")]
    [InlineData("-1")]
    [InlineData("@SUM(A1)")]
    [InlineData("\t=1")]
    public void Csv_TextASpreadsheetWouldRun_IsGuarded(string tag)
    {
        ExportRow row = Rows[0] with { Tag = tag, Figure = 1 };
        List<string[]> table = Rfc4180.Parse(Csv([row]));
        Assert.Equal("'" + PlainText.Clean(tag), table[1][Array.IndexOf(table[0], "tag")]);
    }

    [Fact]
    public void Json_HoldsToItsSchemaAndAWrongMemberDoesNot()
    {
        JsonSchema schema = JsonSchema.FromText(File.ReadAllText(Path.Combine(Root(), "collector", "Exchange", "Tables", "export.schema.json")));
        JsonNode json = JsonNode.Parse(Written(to => ExportJson.Write(to, "2031-03-14T06:30:00Z", Rows)))!;
        Assert.True(schema.Evaluate(JsonSerializer.SerializeToElement(json)).IsValid);
        Assert.Equal(Rows.Count, json["figures"]!.AsArray().Count);

        json["figures"]![0]!["counts"] = "yes";
        Assert.False(schema.Evaluate(JsonSerializer.SerializeToElement(json)).IsValid);
    }

    [Fact]
    public async Task Parquet_ReadByAnotherLibrary_GivesEveryCellInTheFileOfItsNight()
    {
        // Written by Parquet.Net, read by ParquetSharp, which wraps the C++ implementation of Apache Arrow: two code bases.
        int read = 0;
        foreach ((string path, IReadOnlyList<ExportRow> rows) in ExportParquet.Files(Rows))
        {
            using var stream = new MemoryStream();
            await ExportParquet.WriteAsync(stream, rows, CancellationToken.None);
            stream.Position = 0;
            using var reader = new ParquetFileReader(stream, leaveOpen: true);
            Assert.Equal(rows.Count, reader.FileMetaData.NumRows);
            using RowGroupReader group = reader.RowGroup(0);
            for (int i = 0; i < ExportColumns.All.Count; i++)
            {
                ExportColumn column = ExportColumns.All[i];
                Assert.Equal(column.Name, reader.FileMetaData.Schema.Column(i).Name);
                Assert.Equal(rows.Select(column.Value), Column(group, i, column.Type, rows.Count));
            }

            Assert.Equal("night=" + (rows[0].Night?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture) ?? "unknown") + "/figures.parquet", path);
            read += rows.Count;
        }

        Assert.Equal(Rows.Count, read);
        Assert.Equal(3, ExportParquet.Files(Rows).Count()); // two nights, and the figures kept by hand, which have no day
    }

    private static IEnumerable<object?> Column(RowGroupReader group, int at, ColumnType type, int rows)
    {
        using ColumnReader column = group.Column(at);
        switch (type)
        {
            case ColumnType.Text:
                using (LogicalColumnReader<string> text = column.LogicalReader<string>())
                {
                    return text.ReadAll(rows);
                }

            case ColumnType.Whole:
                using (LogicalColumnReader<long?> whole = column.LogicalReader<long?>())
                {
                    return [.. whole.ReadAll(rows).Select(v => (object?)v)];
                }

            case ColumnType.Number:
                using (LogicalColumnReader<double?> number = column.LogicalReader<double?>())
                {
                    return [.. number.ReadAll(rows).Select(v => (object?)v)];
                }

            default:
                using (LogicalColumnReader<bool> flag = column.LogicalReader<bool>())
                {
                    return [.. flag.ReadAll(rows).Select(v => (object?)v)];
                }
        }
    }

    private static IReadOnlyList<ExportRow> RowsOf()
    {
        using MemoryRecordStore store = EntryStore.Of(ExchangeSamples.Entries(nights: 2));
        MasterData data = MasterDataLoader.Load(store);
        return ExportRow.Of(data, Analyser.Run(data, UseProfile.SystemDisk, new AnalysisOptions()));
    }

    private static string Root()
    {
        DirectoryInfo? folder = new(AppContext.BaseDirectory);
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "Cardassay.slnx")))
        {
            folder = folder.Parent;
        }

        return folder!.FullName;
    }

    private static string Csv(IReadOnlyList<ExportRow> rows) => Written(to => ExportCsv.Write(to, rows));

    private static string Written(Action<Stream> write)
    {
        using var text = new MemoryStream();
        write(text);
        return System.Text.Encoding.UTF8.GetString(text.ToArray());
    }
}
