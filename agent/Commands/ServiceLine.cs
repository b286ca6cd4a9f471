using System.Globalization;

namespace Cardassay.Agent.Commands;

/// <summary>
/// A line of the service: the text, its event number, and in front, where the system's journal reads it, its priority. Source:
/// sd-daemon(3), "logging": "&lt;4&gt;" is a warning; systemd.exec(5): `$JOURNAL_STREAM` is set for what the journal reads.
/// </summary>
/// <param name="isForJournal">Whether the priority is put in front.</param>
internal sealed class ServiceLine(bool isForJournal)
{
    /// <summary>As this process was started: a manager's service that the journal reads from.</summary>
    internal static ServiceLine FromEnvironment() => new(
        Environment.GetEnvironmentVariable("NOTIFY_SOCKET") is { Length: > 0 }
            && Environment.GetEnvironmentVariable("JOURNAL_STREAM") is { Length: > 0 });

    /// <summary>The line.</summary>
    internal string Of(AgentEvent what, string text) =>
        string.Create(CultureInfo.InvariantCulture, $"{(isForJournal ? Priority(what) : "")}{Text.Clean(text)} (event {(int)what})");

    private static string Priority(AgentEvent what) => what switch
    {
        AgentEvent.Ended => "<3>",
        AgentEvent.RecordsLost or AgentEvent.RunCutOff or AgentEvent.CollectorAway or AgentEvent.CollectorRefuses
            or AgentEvent.CollectorStrange
            or AgentEvent.CertificateNotRenewed or AgentEvent.RunNotCompleted or AgentEvent.ProofBegunAnew => "<4>",
        _ => "<6>",
    };
}
