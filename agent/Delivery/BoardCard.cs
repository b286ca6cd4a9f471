namespace Cardassay.Agent.Delivery;

/// <summary>How the board introduces itself.</summary>
/// <param name="Name">Name it asks for.</param>
/// <param name="Model">Model, or null when unknown.</param>
/// <param name="BootId">Boot of the kernel.</param>
/// <param name="AgentVersion">Version of the agent.</param>
internal sealed record BoardCard(string Name, string? Model, Guid BootId, string AgentVersion);
