namespace Cardassay.Trust;

/// <summary>
/// The line is no invitation. The message is one sentence that says what is wrong with it and what to do; never the line itself.
/// </summary>
public sealed class InvitationException(string message) : Exception(message);
