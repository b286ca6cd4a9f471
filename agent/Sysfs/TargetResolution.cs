using System.Diagnostics.CodeAnalysis;

namespace Cardassay.Agent.Sysfs;

/// <summary>A target found, or a sentence that says why not.</summary>
/// <param name="Target">The target, or null.</param>
/// <param name="Problem">What is wrong and what to do, or null.</param>
public sealed record TargetResolution(ResolvedTarget? Target, string? Problem)
{
    /// <summary>True when there is a target.</summary>
    [MemberNotNullWhen(true, nameof(Target))]
    [MemberNotNullWhen(false, nameof(Problem))]
    public bool Found => Target is not null;
}
