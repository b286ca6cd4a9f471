using System.Text;
using Cardassay.Agent.Conditions;
using Cardassay.Agent.Guard;
using Cardassay.Agent.Sysfs;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Sysfs;

/// <summary>Whatever a kernel, or somebody with a bind mount, puts into these files: no crash, no hang, nothing unbounded.</summary>
public class SysfsFuzzTests
{
    private static readonly string[] Seeds =
    [
        "36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue\n1 0 8:1 / / rw - ext4 /dev/sda1 rw\n",
        "clock:\t\t200000000 Hz\nactual clock:\t200000000 Hz\nbus width:\t2 (4 bits)\ntiming spec:\t6 (sd uhs SDR104)\nsignal voltage:\t1 (1.80 V)\n",
        "# Command Timeout Occurred:\t 2\n# Data CRC Errors Occurred:\t 9223372036854775807\n",
        "   12034     3310   902144    84512     5521     4410   411968   190233        0    98120   274745\n",
        "MemTotal:        3884172 kB\nMemAvailable:    3012340 kB\nDirty:               132 kB\n",
        "Filename\t\t\t\tType\t\tSize\n/swap\\040file\t\tfile\t\t1\t0\t-2\n",
        "0.52 0.58 0.59 1/389 12345\n", "035344534331364780ecf4c851011b85\n", "0x01 0x02\n", "write through\n",
    ];

    private static bool Full => Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1";

    [Fact]
    public void Parsers_RandomContents_NeverThrow()
    {
        int count = Full ? 1_000_000 : 120_000;
        for (int seed = 0; seed < count; seed++)
        {
            byte[] bytes = Content(new Random(seed));
            try
            {
                Parse(bytes);
            }
            catch (Exception e)
            {
                Assert.Fail($"seed {seed}: {e}");
            }
        }
    }

    [Fact]
    public void Reader_RandomTrees_NeverThrows()
    {
        string[] names = [.. CardFiles.Names];
        for (int seed = 0; seed < (Full ? 20_000 : 2_000); seed++)
        {
            var random = new Random(seed);
            using FixtureTree fixture = new FixtureTree().Bytes("sys/block/mmcblk0/size", Content(random)).Bytes("proc/self/mountinfo", Content(random));
            foreach (string name in random.GetItems(names, 4).Distinct())
            {
                fixture.Bytes("sys/block/mmcblk0/device/" + name, Content(random));
            }

            foreach (string name in random.GetItems<string>(["slaves/mmcblk0", "holders/mmcblk0", "mmcblk0p1/partition", "stat", "dev", "loop/backing_file", "diskseq"], 3).Distinct())
            {
                fixture.Bytes("sys/block/mmcblk0/" + name, Content(random));
            }

            try
            {
                Read(fixture.Tree);
            }
            catch (Exception e)
            {
                Assert.Fail($"seed {seed}: {e}");
            }
        }
    }

    private static void Parse(byte[] bytes)
    {
        string text = TextFile.Printable(bytes);
        Assert.All(text, c => Assert.True(c is (>= ' ' and < '\x7f') or '\n' or '\t'));
        string table = Encoding.UTF8.GetString(bytes);
        MountTable mounts = MountTable.Parse(table);
        Assert.NotNull(mounts.Entries);
        mounts.Covering("/mnt2/x");
        SwapAreas.Parse(table);
        MountTable.Unescape(table);
        TextFile.ParseNumber(text);
        BusState.Parse(text);
        Assert.False(BusState.SumOfErrors(text) < 0);
        DiskCounters.Parse(text);
        ConditionsReader.ParseLoad(text);
        ConditionsReader.ParseMemory(text, "MemAvailable");
    }

    private static void Read(SysfsTree tree)
    {
        TargetResolution resolution = new TargetResolver(tree).Resolve("mmcblk0");
        Assert.True(resolution.Found || resolution.Problem.Length > 0);
        CardSighting sighting = CardSighting.Take(tree, "mmcblk0")!;
        Assert.All(sighting.Files.Values, f => Assert.NotEqual(ReadingState.Absent, f.State));
        Assert.DoesNotContain(sighting.Identity.Text, char.IsWhiteSpace);
        new ConditionsReader(tree, "mmcblk0").Sample();
        if (resolution.Target is { Kind: TargetKind.Device } target)
        {
            // No plain file ever passes for a device.
            Assert.Contains(new OverwriteGuard(tree).Check(new OverwriteRequest { Target = target }), r => r.Id == "not-the-device");
        }
    }

    // Bytes at random, or a known text with bytes changed, cut out and repeated.
    private static byte[] Content(Random random)
    {
        if (random.Next(3) == 0)
        {
            byte[] noise = new byte[random.Next(200)];
            random.NextBytes(noise);
            return noise;
        }

        List<byte> bytes = [.. Encoding.Latin1.GetBytes(Seeds[random.Next(Seeds.Length)])];
        for (int change = random.Next(6); change > 0 && bytes.Count > 0; change--)
        {
            int at = random.Next(bytes.Count);
            switch (random.Next(3))
            {
                case 0:
                    bytes[at] = (byte)random.Next(256);
                    break;
                case 1:
                    bytes.RemoveRange(at, random.Next(bytes.Count - at));
                    break;
                default:
                    bytes.InsertRange(at, bytes.GetRange(at, Math.Min(20, bytes.Count - at)));
                    break;
            }
        }

        return [.. bytes];
    }
}
