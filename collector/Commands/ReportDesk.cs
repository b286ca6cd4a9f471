using Cardassay.Collector.Analysis;

namespace Cardassay.Collector.Commands;

/// <summary>Turns a snapshot of the master data into what the commands and the page show.</summary>
internal sealed class ReportDesk
{
    internal string Render(MasterData data, V1.ReportRequest request) => throw new CommandException("soon");

    internal V1.CardList Cards(MasterData data) => new();

    internal IReadOnlyList<string> NeedsPerson(MasterData data) => [];
}
