using System.Text;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Tests.Report;

/// <summary>The JSON is promised whole at any size, so it must leave while it is made.</summary>
public sealed class StreamedJsonTests
{
    [Fact]
    public async Task Write_ManyCards_LeavesInPiecesAndIsTheSameToTheByte()
    {
        ReportModel model = ReportModels.Tarrow(cards: 40, figures: 30);
        var stream = new CountedStream();
        await JsonReport.WriteAsync(model, stream, CancellationToken.None);
        string whole = JsonReport.Render(model);
        Assert.Equal(whole, Encoding.UTF8.GetString(stream.ToArray()));

        // A piece is what waits (64 KiB) and the card that filled it; everything else of the report is far smaller than that here.
        int largestCard = model.Cards.Max(c => JsonReport.Render(model with { Cards = [c] }).Length);
        Assert.InRange(stream.LargestWrite, 1, (64 * 1024) + largestCard);
        Assert.InRange(stream.Writes, whole.Length / ((64 * 1024) + largestCard), int.MaxValue);
        Assert.True(stream.Writes > 3, $"{whole.Length} characters left in {stream.Writes} pieces");
    }

    [Fact]
    public async Task Write_TheReaderGoesAway_EndsWithItsFailure()
    {
        var stream = new CountedStream { FailAfter = 2 };
        IOException e = await Assert.ThrowsAsync<IOException>(() => JsonReport.WriteAsync(ReportModels.Tarrow(cards: 40, figures: 30), stream, CancellationToken.None));
        Assert.Equal("gone", e.Message);
        Assert.Equal(3, stream.Writes); // what still waited was not tried once more
    }
}
