using System.Net;
using System.Text;
using Cardassay.Collector.Notices.Morning;
using Cardassay.Json;
using MimeKit;

namespace Cardassay.Collector.Notices;

/// <summary>
/// Reads notices.json: JSON with comments. Secrets stand in files of their own that only their owner can read; the settings
/// name these files.
/// </summary>
internal static class NoticeSettingsFile
{
    /// <summary>Name below the data folder.</summary>
    internal const string Name = "notices.json";

    private const int LeastSecretBytes = 16;
    private const int MostSecretBytes = 4096;
    private const long MaxFileBytes = 1 << 20;

    /// <summary>Reads a file.</summary>
    /// <exception cref="NoticeSettingsException">It cannot be used; the message names the key and the remedy.</exception>
    internal static NoticeSettings Read(string path)
    {
        byte[] bytes;
        try
        {
            if (new FileInfo(path).Length > MaxFileBytes)
            {
                throw new NoticeSettingsException($"{path} is larger than 1 MiB, which no settings need.");
            }

            bytes = File.ReadAllBytes(path);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new NoticeSettingsException($"{path} cannot be read: {e.Message}");
        }

        return Parse(bytes, path, secret => ReadSecret(secret, Path.GetDirectoryName(Path.GetFullPath(path))!));
    }

    /// <summary>Reads the text of a file.</summary>
    /// <param name="json">The text.</param>
    /// <param name="file">Its name, for messages.</param>
    /// <param name="secretOf">Reads a secret file; throws <see cref="IOException"/> with a sentence where it cannot be used.</param>
    internal static NoticeSettings Parse(ReadOnlyMemory<byte> json, string file, Func<string, byte[]> secretOf)
    {
        try
        {
            return Parse(new SettingsNode(JsonText.Read(json.Span), file), secretOf);
        }
        catch (JsonTextException e)
        {
            throw new NoticeSettingsException($"{file} is not JSON: {e.Message}");
        }
    }

    private static NoticeSettings Parse(SettingsNode root, Func<string, byte[]> secretOf)
    {
        var settings = new NoticeSettings
        {
            Stalled = TimeSpan.FromMinutes(root.Number("stalledMinutes", 1, 1440, 15)),
            Webhook = root.Node("webhook") is { } webhook ? Webhook(webhook, secretOf) : null,
            Mail = root.Node("mail") is { } mail ? Mail(mail, secretOf) : null,
            ReportBy = root.TimeOfDay("reportBy"),
            Morning = root.Node("morning") is { } morning ? MorningSettings.Read(morning) : null,
            Zone = root.Text("timeZone") is not { } zone ? null
                : TimeZoneInfo.TryFindSystemTimeZoneById(zone, out TimeZoneInfo? found) ? found
                : throw root.Wrong("timeZone", "must be the name of a time zone this machine knows, like \"Etc/UTC\""),
        };
        if (root.Texts("about") is { } about)
        {
            settings = settings with
            {
                About = [.. about.Select(
                    a => KindOf(a) ?? throw root.Wrong("about", $"has \"{a}\"; there are finished, stalled, needsPerson, noReport"))],
            };
        }

        root.Close();
        return settings.Webhook is null && settings.Mail is null && settings.Morning is not { Folders.Count: > 0 }
                ? throw root.Wrong(null, "names no way to a person: add \"webhook\", \"mail\" or \"morning\" with \"folders\"")
            : settings.Morning is { Mail: true } && settings.Mail is null
                ? throw root.Wrong("morning.mail", "needs \"mail\", which names the server and who gets it")
            : settings.Morning is { Webhook: true } && settings.Webhook is null
                ? throw root.Wrong("morning.webhook", "needs \"webhook\", which names the address and the secret")
            : settings.ReportBy <= settings.Morning?.At
                ? throw root.Wrong("reportBy", "must be later than \"morning.at\": by then the report is looked for")
            : settings.Zone is not null && settings.ReportBy is null && settings.Morning is null
                ? throw root.Wrong("timeZone", "needs \"reportBy\" or \"morning\"")
            : settings;
    }

    private static WebhookSettings Webhook(SettingsNode node, Func<string, byte[]> secretOf)
    {
        string text = node.NeededText("url");
        if (!Uri.TryCreate(text, UriKind.Absolute, out Uri? url) || url.Scheme is not ("https" or "http") || url.UserInfo.Length > 0)
        {
            throw node.Wrong("url", "must be an address that begins with https:// and holds no user name or password");
        }

        if (url.Scheme == "http" && !IsThisMachine(url.Host))
        {
            throw node.Wrong("url", "would send in plain text to another machine; use https://");
        }

        byte[] secret = Secret(node, "secretFile", secretOf);
        var settings = new WebhookSettings(url, secret, TimeSpan.FromSeconds(node.Number("timeoutSeconds", 1, 60, 10)));
        node.Close();
        return secret.Length >= LeastSecretBytes
            ? settings
            : throw node.Wrong("secretFile",
                FormattableString.Invariant($"names a secret of {secret.Length} bytes; at least {LeastSecretBytes} are needed, ")
                    + "for example from `openssl rand -hex 32`");
    }

    private static MailSettings Mail(SettingsNode node, Func<string, byte[]> secretOf)
    {
        string server = node.NeededText("server");
        MailSecurity security = node.Text("security") switch
        {
            null or "tls" => MailSecurity.Tls,
            "startTls" => MailSecurity.StartTls,
            "none" => MailSecurity.None,
            _ => throw node.Wrong("security", "must be \"tls\", \"startTls\" or \"none\""),
        };
        if (security == MailSecurity.None && !IsThisMachine(server))
        {
            throw node.Wrong("security", "may be \"none\" only for a server on this machine");
        }

        string? user = node.Text("user");
        string? password = node.Text("passwordFile") is null ? null : Encoding.UTF8.GetString(Secret(node, "passwordFile", secretOf));
        if (user is null != password is null)
        {
            throw node.Wrong(user is null ? "user" : "passwordFile", "is missing: \"user\" and \"passwordFile\" belong together");
        }

        int port = node.Number("port", 1, 65_535, security switch { MailSecurity.Tls => 465, MailSecurity.StartTls => 587, _ => 25 });
        string from = Address(node, "from", node.NeededText("from"));
        string[] to =
        [
            .. (node.Texts("to") ?? throw node.Wrong("to", "is missing: name at least one address")).Select(a => Address(node, "to", a)),
        ];
        TimeSpan timeout = TimeSpan.FromSeconds(node.Number("timeoutSeconds", 1, 120, 30));
        node.Close();
        return new MailSettings(server, port, security, user, password, from, to, timeout);
    }

    private static string Address(SettingsNode node, string key, string text) =>
        !text.Any(char.IsControl) && MailboxAddress.TryParse(text, out MailboxAddress? address)
            && address.Address.Contains('@', StringComparison.Ordinal)
            ? text
            : throw node.Wrong(key, $"holds \"{text}\", which is no mail address");

    private static byte[] Secret(SettingsNode node, string key, Func<string, byte[]> secretOf)
    {
        string path = node.NeededText(key);
        try
        {
            byte[] secret = secretOf(path);
            return secret.Length is > 0 and <= MostSecretBytes
                ? secret
                : throw node.Wrong(key,
                    FormattableString.Invariant($"names the file {path}, which must hold 1 to {MostSecretBytes} bytes"));
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw node.Wrong(key, $"names the file {path}, which cannot be used: {e.Message.TrimEnd('.')}");
        }
    }

    private static byte[] ReadSecret(string path, string folder)
    {
        string full = Path.Combine(folder, path);
        if (!OperatingSystem.IsWindows()
            && (File.GetUnixFileMode(full) & (UnixFileMode.GroupRead | UnixFileMode.GroupWrite | UnixFileMode.OtherRead
                | UnixFileMode.OtherWrite)) != 0)
        {
            throw new IOException($"others can read it; run `chmod 600 {full}`");
        }

        if (new FileInfo(full).Length > MostSecretBytes)
        {
            throw new IOException("it is too large for a secret");
        }

        return Encoding.UTF8.GetBytes(File.ReadAllText(full).Trim());
    }

    private static bool IsThisMachine(string host) =>
        host == "localhost" || (IPAddress.TryParse(host.Trim('[', ']'), out IPAddress? address) && IPAddress.IsLoopback(address));

    private static NoticeKind? KindOf(string name) =>
        ((NoticeKind[])[NoticeKind.Finished, NoticeKind.Stalled, NoticeKind.NeedsPerson, NoticeKind.NoReport]).Cast<NoticeKind?>()
            .FirstOrDefault(k => Notice.NameOf(k!.Value) == name);
}
