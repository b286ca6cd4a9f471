using Cardassay.Agent.Conditions;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Commands;

/// <summary>How this board introduces itself.</summary>
internal static class Boards
{
    internal static BoardCard Describe(SysfsTree tree, string? name)
    {
        BoardFacts facts = BoardFacts.Read(tree);
        _ = Guid.TryParse(facts.BootId.Value, out Guid bootId);
        return new BoardCard(name ?? facts.HostName.Value ?? "board", facts.Model.Value, bootId, AgentVersion.Text);
    }
}
