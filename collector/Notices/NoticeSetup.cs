using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;

namespace Cardassay.Collector.Notices;

/// <summary>Puts the messages together. Off unless the data folder holds settings.</summary>
internal static class NoticeSetup
{
    /// <summary>The settings of a data folder, or null when there are none.</summary>
    /// <exception cref="NoticeSettingsException">They cannot be used.</exception>
    internal static NoticeSettings? Settings(string dataFolder)
    {
        string path = Path.Combine(dataFolder, NoticeSettingsFile.Name);
        return File.Exists(path) ? NoticeSettingsFile.Read(path) : null;
    }

    /// <summary>The channels of the settings.</summary>
    internal static IReadOnlyList<INoticeChannel> Channels(NoticeSettings settings, TimeProvider time) =>
    [
        .. settings.Webhook is { } webhook ? (INoticeChannel[])[new WebhookChannel(webhook, time)] : [],
        .. settings.Mail is { } mail ? (INoticeChannel[])[new MailChannel(mail)] : [],
    ];

    /// <summary>Adds the loop to a collector that serves.</summary>
    internal static void Add(
        IServiceCollection services, NoticeSettings settings, string dataFolder, Func<IServiceProvider, Func<MasterData, IReadOnlyList<string>>> needsPerson)
    {
        services.AddHostedService(provider =>
        {
            TimeProvider time = provider.GetRequiredService<TimeProvider>();
            var outbox = new NoticeOutbox(
                Channels(settings, time),
                Path.Combine(dataFolder, NoticeState.Name),
                new Random(unchecked((int)time.GetTimestamp())), // spreads retries; nothing depends on it
                provider.GetRequiredService<ILogger<NoticeOutbox>>());
            return new NoticeService(
                settings, outbox, provider.GetRequiredService<Projection>(), provider.GetRequiredService<BoardRegistry>(), needsPerson(provider), time,
                provider.GetRequiredService<ILogger<NoticeService>>());
        });
    }
}
