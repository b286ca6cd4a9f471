using Cardassay.Collector.Analysis;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Notices.Morning;
using Cardassay.Collector.Tests.Report;

namespace Cardassay.Collector.Tests.Notices.Morning;

/// <summary>Reports of made-up nights, of the real renderings.</summary>
internal static class SampleMorning
{
    internal const string Night = "2031-03-13";

    private static readonly MasterData Data = SampleData.Build(cards: 3, nights: 2, repetitions: 2);

    /// <summary>The report on <see cref="Night"/>.</summary>
    internal static MorningReport Report { get; } = Of(Night);

    internal static MorningReport Of(string night) => MorningMaker.Of(new ReportDesk(() => []), Data, DateOnly.Parse(night))! with { Table = "| Card |\n" };
}
