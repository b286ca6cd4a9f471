using Cardassay.Collector.Commands;
using Cardassay.Collector.Hosting;
using Cardassay.Identity;

namespace Cardassay.Collector.Tests.Commands;

public sealed class ClaimCsvTests
{
    [Fact]
    public void Parse_GoodRows_GivesClaims()
    {
        IReadOnlyList<Claim> claims = Parse(
            "tag,maker,labelGigabytes,marks,price,currency,condition,reference\r\nT-1,\"Halvorn, Ltd\",64,C10 U3,9.90,EUR,new,yes\r\nT-2,,32,none,,,,\r\n").Claims;
        Assert.Equal(2, claims.Count);
        Assert.Equal("Halvorn, Ltd", claims[0].Maker);
        Assert.Equal(64m, claims[0].LabelGigabytes);
        Assert.Equal(["C10", "U3"], claims[0].Marks!);
        Assert.True(claims[0].IsReference);
        Assert.Null(claims[1].Maker);
        Assert.Empty(claims[1].Marks!);
        Assert.Null(claims[1].Price);
    }

    [Theory]
    [InlineData("", "empty")]
    [InlineData("maker,product\nx,y\n", "No column holds the card")]
    [InlineData("tag,colour\nT,red\n", "Nobody said what \"colour\" holds")]
    [InlineData("tag,price\nT,1,2\n", "line 2: 3 cells")]
    [InlineData("tag,purchased\nT,31/12/2025\n", "line 2: purchased")]
    [InlineData("tag,maker,product\n,x,y\n", "line 2: The card is missing")]
    [InlineData("tag,randomRead\nT,2050\n", "No column holds anything of a claim")]
    public void Parse_BadFile_SaysWhere(string text, string expected)
    {
        CommandException e = Assert.Throws<CommandException>(() => Parse(text));
        Assert.Equal(2, e.ExitCode);
        Assert.Contains(expected, e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Parse_RandomText_EndsInClaimsOrASentence()
    {
        var random = new Random(7);
        const string alphabet = "tag,maker\n\"\r x1;\0é";
        for (int i = 0; i < 20_000; i++)
        {
            string text = (i % 2 == 0 ? "tag,maker\n" : "") + new string([.. Enumerable.Range(0, random.Next(60)).Select(_ => alphabet[random.Next(alphabet.Length)])]);
            try
            {
                Assert.All(Parse(text).Claims, c => Assert.Null(ClaimCheck.TagProblem(c.Tag)));
            }
            catch (CommandException)
            {
                // Refused with a sentence.
            }
        }
    }

    [Theory]
    [InlineData("tag,maker,labelGigabytes\nT-1,Halvorn,64\n", true)]
    [InlineData("tag,brand,labelGigabytes\nT-1,Halvorn,64\n", false)]
    [InlineData("My cards\ntag,maker,labelGigabytes\nT-1,Halvorn,64\n", false)]
    [InlineData("tag;maker;price;currency\nT-1;Halvorn;12,90;EUR\n", false)]
    public void Parse_WhatHadToBeGuessed_IsToldApartFromWhatHadNot(string text, bool isSure)
    {
        ClaimCsv table = Parse(text);
        Assert.Equal("Halvorn", Assert.Single(table.Claims).Maker);
        Assert.Equal(isSure, table.IsSure);
    }

    private static ClaimCsv Parse(string text) => ClaimCsv.Parse(text, "x.csv", [], decimalComma: false, currency: null);
}
