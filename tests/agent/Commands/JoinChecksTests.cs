using Cardassay.Agent.Commands;
using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Tests.Commands;

public sealed class JoinChecksTests : IDisposable
{
    private readonly string _root = Directory.CreateTempSubdirectory("cardassay-join-").FullName;

    [Theory]
    [InlineData(false, "pat", true, true, "may open them")]
    [InlineData(true, "pat", true, true, "may open them")]
    [InlineData(false, "pat", false, false, "only root may open them here. The package's udev rule")]
    [InlineData(false, "cardassay-agent", false, false, "gives SD cards in a slot to the user cardassay-agent")]
    [InlineData(true, "cardassay-agent", false, true, "but not the one the system runs from")]
    [InlineData(true, "pat", false, false, "this is pat; run as that user (sudo -u cardassay-agent) or as root")]
    public void RawDevices_NamesWhoMayOpenThemAndTheRemedy(bool hasRule, string user, bool isRoot, bool works, string text)
    {
        if (hasRule)
        {
            // Where deploy/packages/build puts the rule.
            string rules = Directory.CreateDirectory(Path.Combine(_root, "usr/lib/udev/rules.d")).FullName;
            File.WriteAllText(Path.Combine(rules, "60-cardassay-agent.rules"), "");
        }

        JoinCheck check = JoinChecks.RawDevices(new SysfsTree(_root), user, isRoot);
        Assert.Equal(works, check.Works);
        Assert.StartsWith("raw devices: ", check.Sentence, StringComparison.Ordinal);
        Assert.Contains(text, check.Sentence, StringComparison.Ordinal);
    }

    public void Dispose() => Directory.Delete(_root, recursive: true);
}
