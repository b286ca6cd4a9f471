using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.Packages.Tests;

/// <summary>
/// The agent as a user without any right (setpriv(1): nobody, no group, no capability): it says in a sentence what it may not do and how to
/// change that, and what is on the device stays.
/// </summary>
public sealed class MissingRightsTests
{
    private const string Nobody = "65534";

    [SkippableFact]
    public async Task OverwritingADeviceOfOthers_IsRefusedAndTheDeviceStaysAsItIs()
    {
        await WithDeviceAsync(async (agent, device, data) =>
        {
            string identity = (await AsNobodyAsync(agent, "identify", device, "--json")).Expect(0).Output.Split("\"identity\": \"")[1].Split('"')[0];
            foreach (string[] command in (string[][])[["measure", "--plan", "first-look"], ["prove"]])
            {
                Ran refused = (await AsNobodyAsync(agent, [command[0], device, .. command[1..], "--erase", identity, "--allow-fixed-disk", "--data", data])).Expect(1);
                Assert.Contains($"This user may not open {device}; run as root, or as a user of the group that owns it.", refused.Errors, StringComparison.Ordinal);
            }

            Assert.Contains("nothing was measured here", (await AsNobodyAsync(agent, "backlog", "--data", data)).Expect(0).Output, StringComparison.Ordinal);
        });
    }

    [SkippableFact]
    public async Task AFolderOfOthers_IsNamedWithTheReason()
    {
        await WithDeviceAsync(async (agent, _, data) =>
        {
            string others = Directory.CreateDirectory(Path.Combine(Path.GetDirectoryName(data)!, "others")).FullName;
            Ran refused = (await AsNobodyAsync(agent, "measure", data, "--allow-fixed-disk", "--plan", "first-look", "--data", others)).Expect(1);
            Assert.Contains($"The agent's folder {others} cannot be used", refused.Errors, StringComparison.Ordinal);
            Assert.Empty(Directory.EnumerateFileSystemEntries(data));
        });
    }

    /// <summary>A loop device that only root may open, a copy of the agent that everybody may run, and a folder that is nobody's.</summary>
    private static async Task WithDeviceAsync(Func<string, string, string, Task> act)
    {
        Tools.RequirePublishing();
        Tools.RequireRoot();
        Tools.Require("losetup", "setpriv", "chown");
        string folder = Directory.CreateDirectory($"/var/tmp/cardassay-rights-{Guid.NewGuid():N}").FullName;
        string device = "";
        try
        {
            string agent = Path.Combine(folder, "cardassay-agent");
            File.Copy(await PublishedAgent.ObtainAsync("linux-x64"), agent);
            const UnixFileMode EverybodyMayRun = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute
                | UnixFileMode.GroupRead | UnixFileMode.GroupExecute | UnixFileMode.OtherRead | UnixFileMode.OtherExecute;
            File.SetUnixFileMode(agent, EverybodyMayRun);
            File.SetUnixFileMode(folder, EverybodyMayRun);
            byte[] before = new byte[64 << 20];
            new Random(7).NextBytes(before);
            string image = Path.Combine(folder, "image");
            File.WriteAllBytes(image, before);
            device = (await Ran.ItAsync("losetup", "-f", "--show", image)).Expect(0).Output.Trim();
            string data = Directory.CreateDirectory(Path.Combine(folder, "data")).FullName;
            (await Ran.ItAsync("chown", Nobody, data)).Expect(0);
            await act(agent, device, data);
            (await Ran.ItAsync("losetup", "-d", device)).Expect(0);
            device = "";
            Assert.Equal(before, File.ReadAllBytes(image));
        }
        finally
        {
            if (device.Length > 0)
            {
                await Ran.ItAsync("losetup", "-d", device);
            }

            Directory.Delete(folder, recursive: true);
        }
    }

    private static Task<Ran> AsNobodyAsync(string agent, params IEnumerable<string> arguments) => Ran.ItAsync(
        "setpriv", ["--reuid", Nobody, "--regid", Nobody, "--clear-groups", "--inh-caps=-all", "--bounding-set=-all", agent, .. arguments]);
}
