using System.Text.RegularExpressions;
using Cardassay.Collector.Report.First;

namespace Cardassay.Collector.Tests.Report.Tarrow;

/// <summary>
/// What people ask at breakfast, answered from the first page alone as it is printed. What is true of Tarrow is in the catalogue of deploy/demo and is
/// shown from the records in tests/demo.
/// </summary>
public sealed class TarrowQuestionsTests
{
    private static readonly string Page = FirstPageText.Render(TarrowNights.Report);

    [Fact]
    public void Page_FitsOneScreen()
    {
        string[] lines = Page.TrimEnd('\n').Split('\n');
        Assert.InRange(lines.Length, 20, 40);
        Assert.All(lines, l => Assert.InRange(l.Length, 0, 80));
    }

    [Fact]
    public void WhichCardForTenXtsAndHowSure() =>
        Says("TAKE", "^Brightmere Sprat 64 GB, 5\\.40 XTS .*Sure of the lead: at 95 %, for all 19 ranked cards at once\\..*T-19 written to the end and read back; .* only sampled");

    [Fact]
    public void WhatMustGoBackToWhom() => Says(
        "SEND BACK",
        "T-15 Ostervane Bulwark Max 256 GB \\(19\\.00 XTS, 4 Nov 2025, stall on the ferry\\): .*30\\.59 GB.*T-08 and T-09 Quillon Courier 32 GB .*harbour store at Skerrin Point.*"
            + "T-04 Halvorn Fathom 64 GB .*stall on the ferry");

    [Fact]
    public void WhatDoIDoNowInOrder() => Says("DO NOW", "^1\\. Write nothing more to T-15; .* 2\\. Before you write about T-04: .* 3\\. Write to stall on the ferry \\(T-15, T-04\\); harbour store");

    [Fact]
    public void WhatWasNotDoneAndWhy() => Says("NIGHT", "^No schedule is known; .*Size never tested: T-06 and T-17\\.");

    [Fact]
    public void IsT10BetterThanT01AndByHowMuch() => Says("COMPARED", "^Surely .*T-10 over T-01 by 1\\d\\.\\d–1\\d\\.\\d %");

    [Fact]
    public void WhichBoardIsSuspect() => Says("BOARDS", "^gannet-quay is surely slower than every other board, by 2\\.\\d to 2\\.\\d % .*T-06, T-15, T-17 and T-24 ran only there");

    /// <summary>T-03 wears by 4.5 % a night in small writes; three nights do not show it, and the page must not say that they do.</summary>
    [Fact]
    public void WhichCardChanged() => Says("CHANGED", "No card's figures were shown to change; that needs many nights\\.");

    [Fact]
    public void WhyIsOneUnranked() => Says("UNRANKED", "T-03: a used card; T-18, T-22, T-23 and T-24: measured on a 25 MB/s slot");

    [Fact]
    public void WhatDoesTonightDo() => Says("TONIGHT", "^Nothing is scheduled\\.");

    [Fact]
    public void DidAProductChange() => Says("PRODUCTS", "^No revision change in the registers of 7 products with several cards\\.");

    /// <summary>The part with this label, its lines joined, matches.</summary>
    private static void Says(string label, string pattern)
    {
        string[] lines = Page.Split('\n');
        int at = Array.FindIndex(lines, l => l.StartsWith(label + " ", StringComparison.Ordinal));
        Assert.True(at >= 0, $"no {label} in\n{Page}");
        string part = string.Join(' ', lines.Skip(at).TakeWhile((l, i) => i == 0 || l.StartsWith(' ')).Select(l => l[Math.Min(l.Length, label.Length)..].Trim()));
        Assert.True(Regex.IsMatch(Regex.Replace(part, " +", " "), pattern), part);
    }
}
