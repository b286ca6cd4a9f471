using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Exchange.Tables;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Collector.Tests.Report;
using Cardassay.Trust;
using DuckDB.NET.Data;
using Json.Schema;
using Microsoft.Data.Analysis;
using ParquetSharp;

namespace Cardassay.Collector.Tests.Exchange;

public sealed class ExportTests : IDisposable
{
    private static readonly MasterData Data = Loaded();
    private static readonly AnalysisResult Analysis = Analyser.Run(Data, UseProfile.SystemDisk, new AnalysisOptions());
    private static readonly IReadOnlyList<ExportTable> Tables = ExportTable.All(Data);
    private static readonly ExportTable Figures = Tables[0];

    private readonly string _folder = Directory.CreateTempSubdirectory("export-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public void Figures_EveryTrialAndFigure_IsOneRowAndThoseThatCountAreThoseOfTheReport()
    {
        Assert.Equal(Data.Runs.Sum(r => r.Trials.Count) + Data.HandKept.Count, Figures.Count);
        Assert.Equal(Figures.Count, Figures.Rows.Count());
        Assert.Equal(
            Analysis.Cards.Sum(c => c.Metrics.Sum(m => m.N)) + Data.HandKept.Count, Column(Figures, "counts").Count(c => c is true));
        Assert.Equal(Column(Figures, "counts").Select(c => c is false), Column(Figures, "set_aside_rule").Select(r => r is not null));
        Assert.Contains(SetAsideRules.IdOf(SetAsideRule.WarmUpRole), Column(Figures, "set_aside_rule"));
        Assert.All(Column(Figures, "p50_us").Zip(Column(Figures, "longest_us")).Where(p => p.First is not null), p => Assert.True((double)p.First! <= (double)p.Second!));
        Assert.Equal(Data.Runs.SelectMany(r => r.Trials).Count(t => t.JournaledUnixNs > 0), Column(Figures, "journaled_utc").Count(j => j is not null));
    }

    [Fact]
    public void CardsAndRuns_HoldVerdictRankAndOutcomeOfTheReport()
    {
        ExportTable cards = Tables.Single(t => t.Name == "cards"), runs = Tables.Single(t => t.Name == "runs");
        IReadOnlyDictionary<string, CardStanding> standings = CardStandings.Of(Data, Analysis);
        Assert.Equal(Analysis.Cards.Select(c => standings[c.Name].Verdict.Words), Column(cards, "verdict"));
        Assert.Equal(Analysis.Rankings[0].Cards.Select(c => (long?)c.Best).Order(), Column(cards, "rank_best").OfType<long?>().Order());
        Assert.Equal(Data.Runs.Count, runs.Count);
        Assert.Contains("completed", Column(runs, "outcome"));
        Assert.Equal(Column(Figures, "run").OfType<string>().Distinct().Order(), Column(runs, "run").OfType<string>().Order());
    }

    [Fact]
    public void Csv_ReadByTheGrammarOfRfc4180_GivesEveryCell()
    {
        List<string[]> table = Rfc4180.Parse(Csv(Figures));
        Assert.Equal(Figures.Columns.Select(c => c.Name), table[0]);
        Assert.Equal(Figures.Count + 1, table.Count);
        int figure = Array.IndexOf(table[0], "figure");
        Assert.Equal(Column(Figures, "figure"), table.Skip(1).Select(r => (object?)double.Parse(r[figure], CultureInfo.InvariantCulture)));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Csv_ReadByADataFrame_GivesNumbersAsNumbersInBothNotations(bool decimalComma)
    {
        // A data-frame library, told the separator and the culture as a person in that locale would.
        var culture = (CultureInfo)CultureInfo.InvariantCulture.Clone();
        culture.NumberFormat.NumberDecimalSeparator = decimalComma ? "," : ".";
        culture.NumberFormat.NumberGroupSeparator = " ";
        using var stream = new MemoryStream();
        ExportCsv.Write(stream, Figures, decimalComma);
        stream.Position = 0;
        DataFrame frame = DataFrame.LoadCsv(stream, decimalComma ? ';' : ',', cultureInfo: culture, guessRows: 1000);
        Assert.Equal(Figures.Count, frame.Rows.Count);
        DataFrameColumn figures = frame["figure"];
        Assert.True(figures.IsNumericColumn(), figures.DataType.Name);
        double[] expected = [.. Column(Figures, "figure").Select(f => (double)f!)];
        for (int i = 0; i < expected.Length; i++)
        {
            Assert.Equal(expected[i], Convert.ToDouble(figures[i], CultureInfo.InvariantCulture), expected[i] * 1e-6); // the library reads 32 bits
        }
    }

    [Theory]
    [InlineData("=1+1")]
    [InlineData("+1")]
    [InlineData("-1")]
    [InlineData("@SUM(A1)")]
    [InlineData("\t=1")]
    public void Csv_TextASpreadsheetWouldRun_IsGuarded(string tag)
    {
        ExportRow row = ExportRow.Of(Data, Analysis)[0];
        List<string[]> table = Rfc4180.Parse(Csv(FigureTable.Of([row with { Card = row.Card with { Tag = tag }, Figure = 1 }])));
        Assert.Equal("'" + PlainText.Clean(tag), table[1][Array.IndexOf(table[0], "tag")]);
    }

    [Theory]
    [InlineData("counts", "yes")]
    [InlineData("night", "12 March 2031")]
    [InlineData("run_opened_utc", "2031-03-12 21:00")]
    [InlineData("operations", "many")]
    public void Json_HoldsToItsSchemaWithFormatsAndAWrongMemberDoesNot(string member, string wrong)
    {
        JsonSchema schema = JsonSchema.FromText(ExportSchema.Of(Tables));
        var options = new EvaluationOptions { RequireFormatValidation = true };
        JsonNode json = JsonNode.Parse(Written(to => ExportJson.Write(to, Data.AsOf, Tables)))!;
        Assert.True(schema.Evaluate(JsonSerializer.SerializeToElement(json), options).IsValid);
        Assert.All(Tables, t => Assert.Equal(t.Count, json[t.Name]!.AsArray().Count));

        json["figures"]![0]![member] = wrong;
        Assert.False(schema.Evaluate(JsonSerializer.SerializeToElement(json), options).IsValid);
    }

    [Fact]
    public void Schema_EveryColumn_IsOnceWithAMeaning()
    {
        foreach (ExportTable table in Tables)
        {
            Assert.Equal(table.Columns.Count, table.Columns.Select(c => c.Name).Distinct().Count());
            Assert.All(table.Columns, c => Assert.EndsWith(".", c.Meaning, StringComparison.Ordinal));
        }
    }

    [Fact]
    public async Task Parquet_ReadByAnotherLibrary_GivesEveryCellInTheFileOfItsNight()
    {
        // Written by Parquet.Net, read by ParquetSharp, which wraps the C++ implementation of Apache Arrow: two code bases.
        int read = 0;
        foreach ((string path, ExportTable table, IReadOnlyList<object?[]> rows) in ExportParquet.Files(Tables))
        {
            using var stream = new MemoryStream();
            await ExportParquet.WriteAsync(stream, table, rows, CancellationToken.None);
            stream.Position = 0;
            using var reader = new ParquetFileReader(stream, leaveOpen: true);
            Assert.Equal(rows.Count, reader.FileMetaData.NumRows);
            Assert.Equal(ExportSchema.Of([table]), reader.FileMetaData.KeyValueMetadata["schema"]);
            using RowGroupReader group = reader.RowGroup(0);
            for (int i = 0; i < table.Columns.Count; i++)
            {
                ExportColumn column = table.Columns[i];
                Assert.Equal(column.Name, reader.FileMetaData.Schema.Column(i).Name);
                Assert.Equal(rows.Select(r => r[i]), Column(group, i, column.Type, rows.Count));
            }

            if (table.Name == "figures")
            {
                Assert.Equal("figures/" + (rows[0][0] is DateOnly night ? night.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture) : "no-day") + ".parquet", path);
            }

            read += rows.Count;
        }

        Assert.Equal(Tables.Sum(t => t.Count), read);
        Assert.Equal(5, ExportParquet.Files(Tables).Count()); // two nights, the figures kept by hand, which have no day, cards and runs
    }

    [Fact]
    public async Task Parquet_OpenedByADatabase_HasDaysTimesAndNullsOverAllNights()
    {
        foreach ((string path, ExportTable table, IReadOnlyList<object?[]> rows) in ExportParquet.Files(Tables))
        {
            string full = Path.Combine(_folder, path);
            Directory.CreateDirectory(Path.GetDirectoryName(full)!);
            await using FileStream file = File.Create(full);
            await ExportParquet.WriteAsync(file, table, rows, CancellationToken.None);
        }

        // DuckDB reads Parquet with code of its own, and guesses no type: figures without a day must not make the nights texts.
        using var database = new DuckDBConnection("DataSource=:memory:");
        database.Open();
        string figures = $"read_parquet('{_folder}/figures/*.parquet')";
        Assert.Equal(["DATE", "TIMESTAMP WITH TIME ZONE", "BIGINT", "DOUBLE", "BOOLEAN", "VARCHAR"], Query(
            $"SELECT column_type FROM (DESCRIBE SELECT night, run_opened_utc, operations, figure, counts, tag FROM {figures})"));
        Assert.Equal([Figures.Count.ToString(CultureInfo.InvariantCulture)], Query($"SELECT count(*) FROM {figures}"));
        Assert.Equal([Column(Figures, "night").Count(n => n is null).ToString(CultureInfo.InvariantCulture)], Query($"SELECT count(*) FROM {figures} WHERE night IS NULL"));
        Assert.Equal(
            [Column(Figures, "run_opened_utc").OfType<DateTimeOffset>().Max().ToUnixTimeMilliseconds().ToString(CultureInfo.InvariantCulture)],
            Query($"SELECT epoch_ms(max(run_opened_utc)) FROM {figures}"));

        // The median of what counts, by the database, is the report's.
        MetricSummary metric = Analysis.Cards.Single(c => c.Name == "T-02").Metrics.First(m => m.N > 3);
        Assert.Equal([metric.Median.ToString("R", CultureInfo.InvariantCulture)], Query(
            $"SELECT median(figure) FROM {figures} WHERE tag = 'T-02' AND metric = '{metric.Metric}' AND counts AND kept_by_hand IS NULL"));
        Assert.Equal(["0"], Query($"SELECT count(*) FROM {figures} f LEFT JOIN '{_folder}/runs.parquet' r USING (run) WHERE f.run IS NOT NULL AND r.run IS NULL"));
        Assert.Equal([Analysis.Cards.Count(c => c.Claim?.IsReference == true).ToString(CultureInfo.InvariantCulture)], Query($"SELECT count(*) FROM '{_folder}/cards.parquet' WHERE reference"));

        string[] Query(string sql)
        {
            using DuckDBCommand command = database.CreateCommand();
            command.CommandText = sql;
            using DuckDBDataReader reader = command.ExecuteReader();
            var values = new List<string>();
            while (reader.Read())
            {
                object value = reader.GetValue(0);
                values.Add(value is double number ? number.ToString("R", CultureInfo.InvariantCulture) : Convert.ToString(value, CultureInfo.InvariantCulture)!);
            }

            return [.. values];
        }
    }

    private static IEnumerable<object?> Column(ExportTable table, string name)
    {
        int at = table.Columns.Select(c => c.Name).ToList().IndexOf(name);
        return table.Rows.Select(r => r[at]);
    }

    private static IEnumerable<object?> Column(RowGroupReader group, int at, ColumnType type, int rows)
    {
        using ColumnReader column = group.Column(at);
        return type switch
        {
            ColumnType.Text => column.LogicalReader<string?>().ReadAll(rows),
            ColumnType.Whole => column.LogicalReader<long?>().ReadAll(rows).Select(v => (object?)v).ToArray(),
            ColumnType.Number => column.LogicalReader<double?>().ReadAll(rows).Select(v => (object?)v).ToArray(),
            ColumnType.Day => column.LogicalReader<Date?>().ReadAll(rows).Select(v => v is { } day ? (object?)DateOnly.FromDateTime(day.DateTime) : null).ToArray(),
            ColumnType.Moment => column.LogicalReader<DateTime?>().ReadAll(rows).Select(v => v is { } at ? (object?)new DateTimeOffset(at, TimeSpan.Zero) : null).ToArray(),
            _ => column.LogicalReader<bool>().ReadAll(rows).Select(v => (object?)v).ToArray(),
        };
    }

    private static MasterData Loaded()
    {
        using MemoryRecordStore store = EntryStore.Of(ExchangeSamples.Entries(nights: 2));
        return MasterDataLoader.Load(store);
    }

    private static string Csv(ExportTable table) => Written(to => ExportCsv.Write(to, table));

    private static string Written(Action<Stream> write)
    {
        using var text = new MemoryStream();
        write(text);
        return System.Text.Encoding.UTF8.GetString(text.ToArray());
    }
}
