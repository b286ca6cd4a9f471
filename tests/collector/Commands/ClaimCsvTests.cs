using Cardassay.Collector.Commands;
using Cardassay.Identity;

namespace Cardassay.Collector.Tests.Commands;

public sealed class ClaimCsvTests
{
    [Fact]
    public void Parse_GoodRows_GivesClaims()
    {
        IReadOnlyList<Claim> claims = ClaimCsv.Parse(new StringReader(
            "tag,maker,labelGigabytes,marks,price,currency,condition,reference\r\nT-1,\"Halvorn, Ltd\",64,C10 U3,9.90,EUR,new,yes\r\nT-2,,,none,,,,\r\n"), "x.csv");
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
    [InlineData("maker\nx\n", "\"tag\" is missing")]
    [InlineData("tag,colour\nT,red\n", "no column \"colour\"")]
    [InlineData("tag,price\nT,1,2\n", "line 2: 3 fields")]
    [InlineData("tag,purchased\nT,31.12.2025\n", "line 2: purchased")]
    [InlineData("tag,maker\n,x\n", "line 2: tag")]
    public void Parse_BadFile_SaysWhere(string text, string expected)
    {
        CommandException e = Assert.Throws<CommandException>(() => ClaimCsv.Parse(new StringReader(text), "x.csv"));
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
                Assert.All(ClaimCsv.Parse(new StringReader(text), "x.csv"), c => Assert.Null(ClaimCheck.TagProblem(c.Tag)));
            }
            catch (CommandException)
            {
                // Refused with a sentence.
            }
        }
    }
}
