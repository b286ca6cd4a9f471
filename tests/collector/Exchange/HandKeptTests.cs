using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.HandKept;
using Cardassay.Collector.Files;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Exchange;

public sealed class HandKeptTests
{
    private static readonly DateOnly Today = new(2031, 3, 14);

    [Theory]
    [InlineData("tag,randomRead,day\nT-1,2050,2030-01-02\nT-2,1800,\n")]
    [InlineData("tag;randomRead;day\r\nT-1;2050;2030-01-02\r\nT-2;1800;\r\n")]
    [InlineData("tag\trandomRead\tday\nT-1\t2050\t2030-01-02\nT-2\t1800\t\n")]
    [InlineData("# my notes\n| Tag | Random read | Day |\n|---|---:|---|\n| T-1 | 2050 | 2030-01-02 |\n| T-2 | 1800 | |\n")]
    [InlineData("tag   Random read (IOPS)   day\n---   ------------------   ---\nT-1   2050                 2030-01-02\nT-2   1800                 -\n")]
    public void Read_EveryKindOfTable_GivesTheSameFigures(string text)
    {
        HandKeptFigures figures = Read(text.Replace("2                 -", "2                 -", StringComparison.Ordinal).Replace("  -\n", "  \n", StringComparison.Ordinal).Replace("1800                 \n", "1800                 2030-01-03\n", StringComparison.Ordinal));
        Assert.Empty(figures.Refused);
        Assert.Equal([("T-1", 2050.0), ("T-2", 1800.0)], figures.Taken.Select(f => (f.Tag, f.Value)));
        Assert.All(figures.Taken, f => Assert.Equal(V1.TrialKind.RandomRead, f.Kind));
        Assert.Equal("2030-01-02", figures.Taken[0].Day);
    }

    [Theory]
    [InlineData("8", "randomRead:MB/s", 1953.125)] // 8 x 10^6 / 4096
    [InlineData("8", "randomRead:MiB/s", 2048)] // 8 x 2^20 / 4096
    [InlineData("8000", "randomWrite:KB/s", 1953.125)]
    [InlineData("8 MiB/s", "randomRead", 2048)] // a unit in the cell outranks the heading
    [InlineData("90", "sequentialRead", 90)]
    [InlineData("90", "sequentialRead:MiB/s", 94.37184)] // 90 x 1.048576
    public void Read_Units_BecomeThatOfTheMetric(string cell, string field, double expected)
    {
        HandKeptFigures figures = Read($"tag,x\nT-1,{cell}\n", $"x={field}");
        Assert.Equal(expected, Assert.Single(figures.Taken).Value, 9);
    }

    [Fact]
    public void Read_LongTable_TakesMetricValueAndUnitFromTheRow()
    {
        HandKeptFigures figures = Read("card,metric,value,unit\nT-1,random read,8,MB/s\nT-1,sequentialWrite,20,\nT-1,speed,1,\n", "card=tag");
        Assert.Equal([(V1.TrialKind.RandomRead, 1953.125), (V1.TrialKind.SequentialWrite, 20.0)], figures.Taken.Select(f => (f.Kind, f.Value)));
        RefusedRow refused = Assert.Single(figures.Refused);
        Assert.Equal(4, refused.Line);
        Assert.Contains("\"speed\" is no metric", refused.Why, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("T-1,abc,2030-01-02", "\"abc\" is not a number")]
    [InlineData("T-1,-5,2030-01-02", "\"-5\" is not a number")]
    [InlineData("T-1,0,2030-01-02", "is not above 0")]
    [InlineData("T-1,2000000000,2030-01-02", "look at the unit")]
    [InlineData("T-1,1e400,2030-01-02", "is not a number")]
    [InlineData("T-1,12 furlongs,2030-01-02", "\"furlongs\" is no unit")]
    [InlineData("T-1,\"1,5\",2030-01-02", "--decimal-comma")]
    [InlineData(",2050,2030-01-02", "The card is missing")]
    [InlineData("T-1,2050,2/1/2030", "which is the month")]
    [InlineData("T-1,2050,2031-03-15", "no day between")]
    [InlineData("T-1,2050", "2 cells where the heading has 3")]
    public void Read_RowsThatCannotBe_AreRefusedWithLineAndRemedyAndTheOthersTaken(string row, string why)
    {
        HandKeptFigures figures = Read($"tag,randomRead,day\n{row}\nT-2,1800,2030-01-02\n");
        Assert.Equal("T-2", Assert.Single(figures.Taken).Tag);
        RefusedRow refused = Assert.Single(figures.Refused);
        Assert.Equal(2, refused.Line);
        Assert.Contains(why, refused.Why, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("Card;4k read (MB/s);Price\nT-1;8,2;12,90 EUR\n", 2001.953125)]
    [InlineData("My cards of 2030;;\n\nNo.;4K Random Read [MB/s];Cost (EUR)\nT-1;8,2;12,90\nAverage;8,2;12,90\nMeasured on the bench;;\n", 2001.953125)]
    [InlineData("My cards\n========\n| Sticker | 4k read, MB/s | Price (EUR) | Remarks |\n|---|---|---|---|\n| T-1 | 8.2 | 12.90 | none |\n", 2001.953125)]
    [InlineData("Cards of the bench\ncard   4k read   price\nT-1    2050 IOPS   € 12.90\n\nprices with tax\n", 2050)]
    public void Read_TablesAsPeopleKeepThem_GiveFigureAndPrice(string text, double expected)
    {
        HandKeptFigures figures = Read(text);
        Assert.Empty(figures.Refused);
        V1.HandKeptFigure figure = Assert.Single(figures.Taken);
        Assert.Equal(("T-1", V1.TrialKind.RandomRead), (figure.Tag, figure.Kind));
        Assert.Equal(expected, figure.Value, 6);
        Identity.Claim claim = Assert.Single(figures.Claims).Claim;
        Assert.Equal(("T-1", 12.90m, "EUR"), (claim.Tag, claim.Price, claim.Currency));
    }

    [Fact]
    public void Read_ClaimColumns_UnderUsualHeadings()
    {
        HandKeptFigures figures = Read("id;Brand;Model;Capacity;Class;Bought on;Shop;State\nT-1;Halvorn;Fathom;1 TB;C10 U3;28.2.2030;market;New\nT-2;Quillon;;32GB;;2030/3/1;;used\n");
        Assert.Empty(figures.Refused);
        Identity.Claim one = figures.Claims[0].Claim;
        Assert.Equal(("Halvorn", "Fathom", 1000m, new DateOnly(2030, 2, 28), "market"), (one.Maker, one.Product, one.LabelGigabytes, one.Purchased, one.BoughtAt));
        Assert.Equal(["C10", "U3"], one.Marks!);
        Assert.Equal((32m, new DateOnly(2030, 3, 1), Identity.CardCondition.Used), (figures.Claims[1].Claim.LabelGigabytes, figures.Claims[1].Claim.Purchased, figures.Claims[1].Claim.Condition));
    }

    [Theory]
    [InlineData("tag;4k read\nT-1;8,2\n", "whether 8,2 is IOPS or a throughput")] // a factor of 244: not guessed
    [InlineData("tag;randomRead;price\nT-1;2050;12 $\n", "many currencies have that sign")]
    [InlineData("tag;randomRead;price\nT-1;2050;12,90\n", "a price needs its ISO 4217 code")]
    [InlineData("tag;randomRead;price;currency\nT-1;2050;12,90 EUR;GBP\n", "the column of currencies says GBP")]
    [InlineData("tag;sequentialRead\nT-1;1,234\n", "holds a comma")] // a thousand or one?
    [InlineData("tag;sequentialRead\nT-1;87,5\nT-2;90.1\n", "holds a comma")] // both in one table
    [InlineData("tag;capacity\nT-1;64 GiB\n", "labelGigabytes")]
    [InlineData("tag;bought\nT-1;3/4/2030\n", "which is the month")]
    public void Read_WhatCanMeanTwoThings_IsRefusedWithTheRemedy(string text, string why)
    {
        HandKeptFigures figures = Read(text);
        Assert.Contains(figures.Refused, r => r.Why.Contains(why, StringComparison.Ordinal));
    }

    [Fact]
    public void Read_DecimalComma_IsReadWhenToldSo()
    {
        TableText table = TableText.Parse("tag;sequentialRead\nT-1;87,5\nT-2;1.087,5\n", "notes.csv");
        HandKeptFigures figures = HandKeptFigures.Read(table, ColumnMap.Of(table, TableWants.Everything, [], _ => null), decimalComma: true, Today);
        Assert.Equal(87.5, Assert.Single(figures.Taken).Value);
        Assert.Contains("thousands", Assert.Single(figures.Refused).Why, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("tag,4k\nT,1\n", "", "--map \"4k=FIELD\"")]
    [InlineData("tag,4k read\nT,8.2\n", "4k read=maker|tag=maker", "Two columns are mapped to \"maker\"")]
    [InlineData("tag,read\nT,80\n", "", "--map \"read=FIELD\"")] // of what kind, and in which unit?
    [InlineData("tag,4k\nT,1\n", "5k=randomRead", "\"4k\"")]
    [InlineData("tag,4k\nT,1\n", "4k=speed", "FIELD is one of")]
    [InlineData("tag,4k\nT,1\n", "4k=sequentialRead:IOPS", "FIELD is one of")]
    [InlineData("card,4k\nT,1\n", "4k=randomRead|card=skip", "No column holds the card")]
    [InlineData("tag,4k\nT,1\n", "4k=skip", "No column holds figures")]
    [InlineData("tag,value\nT,1\n", "", "\"metric\" and \"value\" belong together")]
    [InlineData("tag,card,randomRead\nT,T,1\n", "card=tag", "Two columns are mapped to \"tag\"")]
    [InlineData("tag,tag,randomRead\nT,T,1\n", "", "two columns are called")]
    [InlineData("", "", "is empty")]
    public void Of_MappingsThatCannotBe_SayWhatToDo(string text, string maps, string says)
    {
        EvidenceException e = Assert.Throws<EvidenceException>(() => Read(text, maps.Split('|', StringSplitOptions.RemoveEmptyEntries)));
        Assert.Contains(says, e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Of_UnknownColumn_AsksThePersonWhoIsThere()
    {
        TableText table = TableText.Parse("tag,4k\nT-1,8\n", "notes.csv");
        var asked = new List<string>();
        ColumnMap map = ColumnMap.Of(table, TableWants.Everything, [], column =>
        {
            asked.Add(column);
            return "randomRead:MB/s";
        });
        Assert.Equal(["4k"], asked);
        Assert.Equal(new ColumnUse(ColumnField.Figure, TrialKind.RandomRead, "MB/s"), map.Uses[1]);
    }

    [Fact]
    public void Parse_AnyText_IsATableOrRefused()
    {
        const string alphabet = "tagT1,;|\t\"\n\r #-=@+'randomRead é\u0000\uFEFF5 .";
        string[] seeds =
        [
            "tag,randomRead,day\nT-1,2050,2030-01-02\nT-2,\"18,00\",\n", "| Tag | Random read |\n|---|---|\n| T-1 | 2050 |\n", "tag  randomRead\nT-1  5\n",
        ];
        int tables = 0;
        for (int seed = 0; seed < 4_000; seed++)
        {
            var random = new Random(seed);
            char[] text = seeds[seed % seeds.Length].ToCharArray();
            for (int n = random.Next(1, 6); n > 0; n--)
            {
                text[random.Next(text.Length)] = alphabet[random.Next(alphabet.Length)];
            }

            try
            {
                HandKeptFigures figures = Read(new string(text), "x=skip");
                tables++;
                Assert.All(figures.Taken, f => Assert.True(f.Value > 0 && double.IsFinite(f.Value) && f.Tag.Length > 0, $"seed {seed}"));
            }
            catch (EvidenceException e)
            {
                Assert.True(e.Message.Length > 10, $"seed {seed}");
                tables += e.Message.StartsWith("--map", StringComparison.Ordinal) ? 1 : 0;
            }
        }

        Assert.True(tables > 1_000, tables.ToString());
    }

    private static HandKeptFigures Read(string text, params string[] maps)
    {
        TableText table = TableText.Parse(text, "notes.csv");
        return HandKeptFigures.Read(table, ColumnMap.Of(table, TableWants.Everything, maps, _ => null), decimalComma: false, Today);
    }
}
