namespace Cardassay.Agent.Guard;

/// <summary>One reason why a device will not be overwritten.</summary>
/// <param name="Id">Stable id, kebab-case ("mounted").</param>
/// <param name="Text">One sentence that says what is in the way and what to do.</param>
public sealed record Refusal(string Id, string Text);
