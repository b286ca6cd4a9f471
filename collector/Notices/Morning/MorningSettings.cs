namespace Cardassay.Collector.Notices.Morning;

/// <summary>When the report on the last night comes by itself, and by which ways.</summary>
internal sealed record MorningSettings
{
    /// <summary>Time of day it is made at, in the zone of the settings.</summary>
    internal required TimeOnly At { get; init; }

    /// <summary>Folders it is written to, whole paths; they are never made.</summary>
    internal IReadOnlyList<string> Folders { get; init; } = [];

    /// <summary>True sends it by mail; false by default.</summary>
    internal bool Mail { get; init; }

    /// <summary>True posts its first page to the webhook; false by default.</summary>
    internal bool Webhook { get; init; }

    /// <summary>True sends it also when a verdict changed or something newly needs a person; false by default.</summary>
    internal bool OnChange { get; init; }

    /// <summary>Reads the block "morning".</summary>
    /// <exception cref="NoticeSettingsException">It cannot be used; the message names the key and the remedy.</exception>
    internal static MorningSettings Read(SettingsNode node)
    {
        var settings = new MorningSettings
        {
            At = node.TimeOfDay("at") ?? throw node.Wrong("at", "is missing: give a time of day like \"07:00\""),
            Folders = [.. (node.Texts("folders") ?? []).Select(f => Folder(node, f))],
            Mail = node.Flag("mail"),
            Webhook = node.Flag("webhook"),
            OnChange = node.Flag("onChange"),
        };
        node.Close();
        if (settings.Folders.Distinct(StringComparer.Ordinal).Count() < settings.Folders.Count)
        {
            throw node.Wrong("folders", "names one folder twice");
        }

        return settings.Folders.Count > 0 || settings.Mail || settings.Webhook
            ? settings
            : throw node.Wrong(null, "goes nowhere: add \"folders\", \"mail\": true or \"webhook\": true");
    }

    private static string Folder(SettingsNode node, string path) => Path.IsPathFullyQualified(path) && !path.Any(char.IsControl)
        ? Path.TrimEndingDirectorySeparator(Path.GetFullPath(path))
        : throw node.Wrong("folders", $"has \"{path}\", which is no whole path like \"/srv/www/cards\"");
}
