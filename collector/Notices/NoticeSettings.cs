using Cardassay.Collector.Notices.Morning;

namespace Cardassay.Collector.Notices;

/// <summary>Which messages are sent, and where to. Without a settings file none is sent.</summary>
internal sealed record NoticeSettings
{
    /// <summary>Kinds that are sent; all four by default.</summary>
    internal IReadOnlyList<NoticeKind> About { get; init; } = [NoticeKind.Finished, NoticeKind.Stalled, NoticeKind.NeedsPerson,
        NoticeKind.NoReport];

    /// <summary>Silence after which an open run is called stalled, 1 to 1440 minutes; 15 by default.</summary>
    internal TimeSpan Stalled { get; init; } = TimeSpan.FromMinutes(15);

    /// <summary>Time of day by which the report on the last night must exist; null sends no such message.</summary>
    internal TimeOnly? ReportBy { get; init; }

    /// <summary>When and where the report comes by itself; null for nowhere.</summary>
    internal MorningSettings? Morning { get; init; }

    /// <summary>Zone of <see cref="ReportBy"/> and of the morning report; the machine's own by default.</summary>
    internal TimeZoneInfo? Zone { get; init; }

    /// <summary>The webhook, or null.</summary>
    internal WebhookSettings? Webhook { get; init; }

    /// <summary>The mail server, or null.</summary>
    internal MailSettings? Mail { get; init; }
}

/// <summary>Where a webhook is and how it is signed.</summary>
/// <param name="Url">https, or http on this machine.</param>
/// <param name="Secret">Key of the signature, at least 16 bytes. Never logged.</param>
/// <param name="Timeout">Time for one attempt, 1 to 60 s; 10 by default.</param>
internal sealed record WebhookSettings(Uri Url, byte[] Secret, TimeSpan Timeout)
{
    /// <summary>Without the secret, and without the path of the address, which often holds another.</summary>
    public override string ToString() => $"webhook at {Url.Host}";
}

/// <summary>How the connection to a mail server is protected.</summary>
internal enum MailSecurity
{
    /// <summary>TLS from the first byte, usually port 465.</summary>
    Tls = 0,

    /// <summary>TLS after STARTTLS, usually port 587; refused when the server does not offer it.</summary>
    StartTls = 1,

    /// <summary>None; only on this machine.</summary>
    None = 2,
}

/// <summary>A mail server and the addresses.</summary>
/// <param name="Server">Host name.</param>
/// <param name="Port">Port.</param>
/// <param name="Security">Protection of the connection.</param>
/// <param name="User">Name to log in with, or null for none.</param>
/// <param name="Password">Its password. Never logged.</param>
/// <param name="From">Sender.</param>
/// <param name="To">Receivers, at least one.</param>
/// <param name="Timeout">Time for one attempt.</param>
internal sealed record MailSettings(
    string Server, int Port, MailSecurity Security, string? User, string? Password, string From, IReadOnlyList<string> To, TimeSpan Timeout)
{
    /// <summary>Without the password.</summary>
    public override string ToString() => $"mail through {Server}";
}

/// <summary>The settings cannot be used. The message names the file, the key and the remedy, and no secret.</summary>
internal sealed class NoticeSettingsException(string message) : Exception(message);
