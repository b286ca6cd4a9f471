using System.Text.Json;

namespace Cardassay.Plans;

/// <summary>One value of a plan file with the place it stands at.</summary>
/// <param name="Kind">The JSON token: StartObject, StartArray, String, Number, True, False or Null.</param>
/// <param name="Key">The key that leads to it, as `steps[2].blockBytes`; empty for the root.</param>
/// <param name="OffsetBytes">Where it begins in the UTF-8 text.</param>
/// <param name="Text">Text of a string, digits of a number, else empty.</param>
internal sealed record PlanNode(JsonTokenType Kind, string Key, int OffsetBytes, string Text)
{
    /// <summary>Values of an array.</summary>
    public List<PlanNode> Items { get; } = [];

    /// <summary>Members of an object in the order written; a name may not come twice.</summary>
    public List<PlanMember> Members { get; } = [];
}

/// <summary>A member of an object.</summary>
internal sealed record PlanMember(string Name, int NameOffsetBytes, PlanNode Value);
