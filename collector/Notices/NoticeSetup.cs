using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Notices.Morning;

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

    /// <summary>The ways of the settings.</summary>
    internal static IReadOnlyList<INoticeChannel> Channels(NoticeSettings settings, MorningShelf reports, TimeProvider time) =>
    [
        .. settings.Webhook is { } webhook
            ? (INoticeChannel[])[new WebhookChannel(webhook, time, settings.Morning is { Webhook: true } ? reports : null)]
            : [],
        .. settings.Mail is { } mail
            ? (INoticeChannel[])[new MailChannel(mail, settings.Morning is { Mail: true } ? reports : null, settings.Morning?.Folders)]
            : [],
        .. (settings.Morning?.Folders ?? []).Select(f => new FolderChannel(f, reports)),
    ];

    /// <summary>The reports that wait in a data folder.</summary>
    internal static MorningShelf Shelf(string dataFolder) => new(Path.Combine(dataFolder, MorningShelf.Name));

    /// <summary>Adds the loop to a collector that serves.</summary>
    internal static void Add(
        IServiceCollection services, NoticeSettings settings, string dataFolder,
        Func<IServiceProvider, Func<MasterData, IReadOnlyList<string>>> needsPerson)
    {
        services.AddHostedService(provider =>
        {
            TimeProvider time = provider.GetRequiredService<TimeProvider>();
            ILogger<NoticeOutbox> logger = provider.GetRequiredService<ILogger<NoticeOutbox>>();
            MorningShelf shelf = Shelf(dataFolder);
            var outbox = new NoticeOutbox(
                Channels(settings, shelf, time),
                Path.Combine(dataFolder, NoticeState.Name),
                new Random(unchecked((int)time.GetTimestamp())), // spreads retries; nothing depends on it
                logger);
            MorningWatch? morning = settings.Morning is { } wanted
                ? new MorningWatch(wanted, settings.Zone ?? time.LocalTimeZone, outbox, shelf,
                    provider.GetRequiredService<IMorningReports>(), time, logger)
                : null;
            return new NoticeService(
                settings, outbox, morning, provider.GetRequiredService<NoticeTroubles>(), provider.GetRequiredService<Projection>(),
                provider.GetRequiredService<BoardRegistry>(),
                needsPerson(provider), time, provider.GetRequiredService<ILogger<NoticeService>>());
        });
    }
}
