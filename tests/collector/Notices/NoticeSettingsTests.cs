using System.Text;
using Cardassay.Collector.Notices;
using Cardassay.Collector.Notices.Morning;

namespace Cardassay.Collector.Tests.Notices;

public sealed class NoticeSettingsTests
{
    private const string Webhook = "\"webhook\": { \"url\": \"https://bench.example/hook\", \"secretFile\": \"s\" }";
    private const string Mail = "\"mail\": { \"server\": \"mail.example\", \"from\": \"bench@example.org\", \"to\": [\"me@example.org\"] }";

    [Fact]
    public void Parse_WholeFileWithComments_IsRead()
    {
        NoticeSettings settings = Parse($$"""
            { // my settings
              {{Webhook}}, {{Mail}}, "about": ["stalled", "noReport"], "stalledMinutes": 20, "reportBy": "07:30", "timeZone": "Etc/UTC", }
            """);
        Assert.Equal([NoticeKind.Stalled, NoticeKind.NoReport], settings.About);
        Assert.Equal(TimeSpan.FromMinutes(20), settings.Stalled);
        Assert.Equal(new TimeOnly(7, 30), settings.ReportBy);
        Assert.Equal((MailSecurity.Tls, 465), (settings.Mail!.Security, settings.Mail.Port));
        Assert.Equal(TimeSpan.FromMinutes(15), Parse($"{{{Webhook}}}").Stalled);
    }

    [Fact]
    public void Parse_Morning_IsReadAndNeedsNoOtherWayWhereItHasFolders()
    {
        MorningSettings morning = Parse("""
            { "morning": { "at": "07:05", "folders": ["/srv/www/my cards/", "/mnt/share/cards"], "onChange": true }, "timeZone": "Etc/UTC", "reportBy": "07:30" }
            """).Morning!;
        Assert.Equal(new TimeOnly(7, 5), morning.At);
        Assert.Equal(["/srv/www/my cards", "/mnt/share/cards"], morning.Folders);
        Assert.Equal((false, false, true), (morning.Mail, morning.Webhook, morning.OnChange));
        morning = Parse($$"""{ {{Webhook}}, {{Mail}}, "morning": { "at": "07:00", "mail": true, "webhook": true } }""").Morning!;
        Assert.Equal((true, true, false), (morning.Mail, morning.Webhook, morning.OnChange));
    }

    [Theory]
    [InlineData("", "is not JSON")]
    [InlineData("[]", "must be an object")]
    [InlineData("{}", "names no way to a person")]
    [InlineData("{\"webhok\": {}}", "webhok is no setting; there are about, mail,")]
    [InlineData("{\"webhook\": {\"url\": \"https://x.example/\"}}", "webhook.secretFile is missing")]
    [InlineData("{\"webhook\": {\"url\": \"http://x.example/\", \"secretFile\": \"s\"}}", "plain text to another machine; use https://")]
    [InlineData("{\"webhook\": {\"url\": \"https://me:pw@x.example/\", \"secretFile\": \"s\"}}", "holds no user name or password")]
    [InlineData("{\"webhook\": {\"url\": \"ftp://x\", \"secretFile\": \"s\"}}", "begins with https://")]
    [InlineData("{\"webhook\": {\"url\": \"https://x.example/\", \"secretFile\": \"short\"}}", "a secret of 5 bytes; at least 16")]
    [InlineData("{\"webhook\": {\"url\": \"https://x.example/\", \"secretFile\": \"gone\"}}", "the file gone, which cannot be used: no such file")]
    [InlineData("{\"webhook\": {\"url\": \"https://x.example/\", \"secretFile\": \"s\", \"timeoutSeconds\": 0}}", "webhook.timeoutSeconds must be a whole number from 1 to 60")]
    [InlineData("{\"mail\": {\"server\": \"m\", \"from\": \"a@b\", \"to\": []}}", "mail.to must be a list")]
    [InlineData("{\"mail\": {\"server\": \"m\", \"from\": \"nobody\", \"to\": [\"a@b\"]}}", "mail.from holds \"nobody\", which is no mail address")]
    [InlineData("{\"mail\": {\"server\": \"m\", \"from\": \"a@b\\r\\nBcc: x@y\", \"to\": [\"a@b\"]}}", "which is no mail address")]
    [InlineData("{\"mail\": {\"server\": \"m\", \"from\": \"a@b\", \"to\": [\"a@b\"], \"security\": \"none\"}}", "only for a server on this machine")]
    [InlineData("{\"mail\": {\"server\": \"m\", \"from\": \"a@b\", \"to\": [\"a@b\"], \"security\": \"ssl3\"}}", "must be \"tls\", \"startTls\" or \"none\"")]
    [InlineData("{\"mail\": {\"server\": \"m\", \"from\": \"a@b\", \"to\": [\"a@b\"], \"user\": \"u\"}}", "mail.passwordFile is missing")]
    [InlineData("{\"stalledMinutes\": \"15\"}", "stalledMinutes must be a whole number")]
    [InlineData("{\"reportBy\": \"7.30\"}", "reportBy must be a time of day")]
    [InlineData("{\"timeZone\": \"Nowhere/Town\"}", "timeZone must be the name of a time zone")]
    [InlineData("{\"morning\": {}}", "morning.at is missing: give a time of day")]
    [InlineData("{\"morning\": {\"at\": \"7\", \"folders\": [\"/srv/x\"]}}", "morning.at must be a time of day like")]
    [InlineData("{\"morning\": {\"at\": \"07:00\"}}", "morning goes nowhere: add \"folders\"")]
    [InlineData("{\"morning\": {\"at\": \"07:00\", \"folders\": [\"srv/x\"]}}", "morning.folders has \"srv/x\", which is no whole path")]
    [InlineData("{\"morning\": {\"at\": \"07:00\", \"folders\": [\"/srv/x\", \"/srv/x/\"]}}", "morning.folders names one folder twice")]
    [InlineData("{\"morning\": {\"at\": \"07:00\", \"folders\": [\"/srv/x\"], \"mail\": \"yes\"}}", "morning.mail must be true or false")]
    [InlineData("{\"morning\": {\"at\": \"07:00\", \"folders\": [\"/srv/x\"], \"mail\": true}}", "morning.mail needs \"mail\"")]
    [InlineData("{\"morning\": {\"at\": \"07:00\", \"folders\": [\"/srv/x\"], \"webhook\": true}}", "morning.webhook needs \"webhook\"")]
    [InlineData("{\"morning\": {\"at\": \"07:00\", \"folders\": [\"/srv/x\"], \"zone\": \"UTC\"}}", "morning.zone is no setting; there are at, folders, mail, onChange, webhook")]
    [InlineData("{\"morning\": {\"at\": \"07:00\", \"folders\": [\"/srv/x\"]}, \"reportBy\": \"07:00\"}", "reportBy must be later than \"morning.at\"")]
    [InlineData("{\"about\": [\"all\"]}", "about has \"all\"; there are finished")]
    public void Parse_SettingsThatCannotBe_NameTheKeyAndTheRemedy(string json, string says)
    {
        NoticeSettingsException e = Assert.Throws<NoticeSettingsException>(() => Parse(json));
        Assert.StartsWith("notices.json", e.Message, StringComparison.Ordinal);
        Assert.Contains(says, e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Parse_AnyChangedText_IsReadOrRefusedWithoutTheSecret()
    {
        byte[] good = Encoding.UTF8.GetBytes($"{{{Webhook}, {Mail}, \"about\": [\"stalled\"], \"reportBy\": \"07:30\"}}");
        for (int seed = 0; seed < 3_000; seed++)
        {
            var random = new Random(seed);
            byte[] text = [.. good];
            for (int n = random.Next(1, 4); n > 0; n--)
            {
                text[random.Next(text.Length)] = (byte)random.Next(32, 127);
            }

            try
            {
                Parse(Encoding.UTF8.GetString(text));
            }
            catch (NoticeSettingsException e)
            {
                Assert.DoesNotContain("0123456789abcdef", e.Message, StringComparison.Ordinal);
            }
        }
    }

    [Fact]
    [System.Runtime.Versioning.SupportedOSPlatform("linux")]
    public void Read_SecretFileOthersCanRead_IsRefused()
    {
        string folder = Directory.CreateTempSubdirectory("cardassay-notices-").FullName;
        try
        {
            string secret = Path.Combine(folder, "s");
            File.WriteAllText(secret, "0123456789abcdef0123\n");
            File.WriteAllText(Path.Combine(folder, "notices.json"), $"{{{Webhook}}}");
            File.SetUnixFileMode(secret, UnixFileMode.UserRead | UnixFileMode.OtherRead);
            Assert.Contains("chmod 600", Assert.Throws<NoticeSettingsException>(() => NoticeSetup.Settings(folder)).Message, StringComparison.Ordinal);
            File.SetUnixFileMode(secret, UnixFileMode.UserRead);
            Assert.Equal("0123456789abcdef0123", Encoding.UTF8.GetString(NoticeSetup.Settings(folder)!.Webhook!.Secret));
            Assert.Null(NoticeSetup.Settings(Path.Combine(folder, "elsewhere")));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    [Fact]
    public void ToString_OfSettings_HoldsNoSecret()
    {
        NoticeSettings settings = Parse($"{{{Webhook}, \"mail\": {{ \"server\": \"mail.example\", \"from\": \"a@b.example\", \"to\": [\"c@d.example\"], \"user\": \"u\", \"passwordFile\": \"s\" }} }}");
        Assert.Equal("0123456789abcdef", settings.Mail!.Password);
        Assert.DoesNotContain("0123456789abcdef", settings.ToString() + settings.Mail + settings.Webhook, StringComparison.Ordinal);
        Assert.DoesNotContain("/hook", settings.Webhook!.ToString(), StringComparison.Ordinal);
    }

    private static NoticeSettings Parse(string json) => NoticeSettingsFile.Parse(Encoding.UTF8.GetBytes(json), "notices.json", file => file switch
    {
        "s" => Encoding.UTF8.GetBytes("0123456789abcdef"),
        "short" => [1, 2, 3, 4, 5],
        _ => throw new FileNotFoundException("no such file."),
    });
}
