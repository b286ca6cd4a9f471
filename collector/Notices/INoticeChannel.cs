namespace Cardassay.Collector.Notices;

/// <summary>A way to a person.</summary>
internal interface INoticeChannel
{
    /// <summary>"webhook", "mail" or "folder /mnt/share/cards"; names neither an address nor a secret.</summary>
    string Name { get; }

    /// <summary>How long a message is tried again.</summary>
    TimeSpan Patience => TimeSpan.FromDays(1);

    /// <summary>True for a kind that goes this way.</summary>
    bool Takes(NoticeKind kind);

    /// <summary>Sends a message once.</summary>
    Task<SendOutcome> SendAsync(Notice notice, CancellationToken cancellationToken);
}

/// <summary>How an attempt to send went.</summary>
/// <param name="Delivered">True when the receiver took it.</param>
/// <param name="TryAgain">True when another attempt may help.</param>
/// <param name="Problem">What went wrong, as a sentence without any secret; "" when delivered.</param>
internal sealed record SendOutcome(bool Delivered, bool TryAgain, string Problem)
{
    internal static SendOutcome Done { get; } = new(true, false, "");

    internal static SendOutcome Later(string problem) => new(false, true, problem);

    internal static SendOutcome Never(string problem) => new(false, false, problem);
}
