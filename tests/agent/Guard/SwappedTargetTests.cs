using System.Security.Cryptography;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Commands;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Guard;

/// <summary>
/// Something else is put in the place of the target between the check and the first byte. Witness is the content of the other disk, a real
/// loop device: not one byte of it may change.
/// </summary>
[Collection("loop devices")]
public sealed class SwappedTargetTests : IDisposable
{
    private const long Bytes = 8 << 20;
    private const int Points = 50;
    private const int AfterTheOpening = 10;
    private const string Plan =
        """{ "name": "quick", "version": "1", "regionBytes": "4 MiB", "repetitions": 1, "restSeconds": 0, "steps": [ { "kind": "sequentialWrite", "seconds": 0.05, "bytes": "1 MiB" } ] }""";

    private static readonly SysfsTree Machine = new("/");
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("cardassay-swap-");
    private readonly string _node = $"/dev/cardassay-test-{Guid.NewGuid():N}";

    private AgentFolder Folder => new(Path.Combine(_directory.FullName, "agent"));

    /// <summary>
    /// The agent waits for another program's lock, which that gives up after 60 ms; the node is replaced 0 to 78 ms after the start, so before
    /// the agent opens anything, while it waits, and while it opens and writes, and ten times as soon as a trial has begun, however long that takes.
    /// </summary>
    [SkippableFact]
    public async Task Execute_NodeReplacedAtFiftyPoints_NeverWritesToTheOtherDisk()
    {
        Skip.IfNot(LoopDevice.Available, "needs root and loop devices");
        using LoopDevice card = LoopDevice.Create(Bytes);
        using LoopDevice other = LoopDevice.Create(Bytes);
        string before = Fill(other);
        int refused = 0;
        int done = 0;
        for (int point = 0; point < Points; point++)
        {
            MakeNode(card);
            MakeNew(other); // a process, which may take its time
            using ObservationJournal journal = ObservationJournal.Open(Folder.Journal, TimeProvider.System, Guid.NewGuid());
            MeasureRun run = Prepare(_node);
            DeviceLock? anothers = DeviceLock.TryTake(_node, null, out _);
            Task<RunResult> work = OnItsOwn(() => run.Execute(journal, new RunDisplay(TextWriter.Null, false), CancellationToken.None));
            using var swapped = new ManualResetEventSlim();
            Task<bool> release = OnItsOwn(() =>
            {
                Thread.Sleep(60);
                if (point < Points / 2)
                {
                    swapped.Wait(); // before the agent opens anything, however slow the machine is
                }

                anothers!.Dispose();
                return true;
            });
            await OnItsOwn(() =>
            {
                Thread.Sleep(point < Points - AfterTheOpening ? 2 * point : 0);
                return point < Points - AfterTheOpening || SpinWait.SpinUntil(() => run.Step.Length > 0 || work.IsCompleted, TimeSpan.FromSeconds(30));
            });
            PutInPlace();
            swapped.Set();
            await release;
            try
            {
                done += (await work).Summary.Outcome == RunOutcome.Completed ? 1 : 0;
            }
            catch (CommandException e)
            {
                Assert.Matches("leads to another device|not the node of", e.Message);
                refused++;
            }

            Assert.True(before == Content(other), $"another disk was written to at point {point}");
        }

        Assert.Equal(Points, refused + done);
        Assert.True(refused >= Points / 2, $"only {refused} of {Points} points were refused: the swap came too late to show anything");
        Assert.True(done > 0, "no run was done: the swap never came after the opening");
    }

    /// <summary>
    /// In a reader that hides registers another card shows the same of itself: name and size. A consent given for the medium that was in it is used
    /// up to 12 ms after the cards were swapped, or meanwhile, as fast as the kernel lets go of the first.
    /// </summary>
    [SkippableFact]
    public async Task Prepare_CardSwappedInItsReaderAtFiftyPoints_NeverWritesToTheOtherOne()
    {
        Skip.IfNot(LoopDevice.Available, "needs root and loop devices");
        using LoopDevice reader = LoopDevice.Create(Bytes);
        Skip.If(CardSighting.Take(Machine, reader.Name)!.DiskSequence is null, "this kernel has no diskseq");
        string other = Path.Combine(_directory.FullName, "other");
        File.WriteAllBytes(other, RandomNumberGenerator.GetBytes((int)Bytes));
        string before = Convert.ToHexString(SHA256.HashData(File.ReadAllBytes(other)));
        using ObservationJournal journal = ObservationJournal.Open(Folder.Journal, TimeProvider.System, Guid.NewGuid());
        var preflight = new DutyPreflight(Machine, Folder, journal, TimeProvider.System);
        int refused = 0;
        for (int point = 0; point < Points; point++)
        {
            Put(reader, reader.Image);
            V1.ScheduleEntry consented = Consented(reader);
            if (point < AfterTheOpening)
            {
                Put(reader, other);
            }

            Task<CommandException?> work = OnItsOwn(() =>
            {
                try
                {
                    preflight.Prepare(consented).Execute(journal, new RunDisplay(TextWriter.Null, false), CancellationToken.None);
                    return null;
                }
                catch (CommandException e)
                {
                    return e;
                }
            });
            if (point >= AfterTheOpening)
            {
                await OnItsOwn(() =>
                {
                    Thread.Sleep((point - AfterTheOpening) * 3 / 10);
                    Put(reader, other);
                    return true;
                });
            }

            CommandException? refusal = await work;
            refused += refusal is null ? 0 : 1;
            Assert.True(point >= AfterTheOpening || refusal?.Message.Contains("was taken out, or another was put in", StringComparison.Ordinal) == true, $"point {point}: {refusal}");
            Assert.True(before == Convert.ToHexString(SHA256.HashData(File.ReadAllBytes(other))), $"the other card was written to at point {point}");
        }

        Assert.InRange(refused, AfterTheOpening, Points);
    }

    [SkippableFact]
    public void Open_MediumReplacedUnderTheSameNumber_IsRefused()
    {
        Skip.IfNot(LoopDevice.Available, "needs root and loop devices");
        using LoopDevice card = LoopDevice.Create(Bytes);
        string image = Path.Combine(_directory.FullName, "other");
        File.WriteAllBytes(image, RandomNumberGenerator.GetBytes((int)Bytes));
        RunSite site = Find(card.Node);
        Skip.If(site.Target.OpensAsSequence is null, "this kernel has no diskseq");
        Shell.Run("losetup", "-d", card.Node);
        Shell.Run("losetup", card.Node, image);
        CommandException refusal = Assert.Throws<CommandException>(() => site.Open(overwrites: true, 0));
        Assert.Contains("diskseq", refusal.Message, StringComparison.Ordinal);

        // The descriptor alone says it too, and for a plan that only reads.
        using DeviceTarget opened = DeviceTarget.Open(card.Node, forWriting: false);
        Assert.Contains("diskseq", new Agent.Guard.OpenedWatch(Machine, site.Target, card: null).WhyNot(opened.Opened()), StringComparison.Ordinal);
        Assert.Throws<CommandException>(() => site.Open(overwrites: false, 0));
    }

    [SkippableFact]
    public void WhatChanged_OpenDevice_AsksTheDescriptorBeforeEveryTrial()
    {
        Skip.IfNot(LoopDevice.Available, "needs root and loop devices");
        using LoopDevice card = LoopDevice.Create(Bytes);
        using LoopDevice other = LoopDevice.Create(Bytes);
        MakeNode(card);
        RunSite site = Find(_node);
        using IBlockTarget target = site.Open(overwrites: true, 0);
        Assert.Null(site.WhatChanged());
        MakeNode(other); // what is open stays what it was
        Assert.Null(site.WhatChanged());
        using (FileStream file = File.OpenWrite(card.Image))
        {
            file.SetLength(Bytes / 2);
        }

        Shell.Run("losetup", "-c", card.Node);
        Assert.Contains("is another card now", site.WhatChanged(), StringComparison.Ordinal); // its size is part of its identity
        using DeviceTarget again = DeviceTarget.Open(card.Node, forWriting: false);
        Assert.Contains("has 4194304 bytes now", new Agent.Guard.OpenedWatch(Machine, site.Target, card: null).WhyNot(again.Opened()), StringComparison.Ordinal);
    }

    [SkippableFact]
    public void Open_CardUnmountedSinceTheCheck_MakesNothingInTheFolderBelow()
    {
        Skip.IfNot(LoopDevice.Available, "needs root and loop devices");
        using LoopDevice card = LoopDevice.Create(Bytes * 4);
        Shell.Run("mkfs.ext4", "-q", "-F", card.Node);
        string point = Directory.CreateDirectory(Path.Combine(_directory.FullName, "mounted")).FullName;
        Shell.Run("mount", card.Node, point);
        RunSite site = Find(point);
        site.Open(overwrites: false, 1 << 20).Dispose();
        Shell.Run("umount", point);
        DateTime before = Directory.GetLastWriteTimeUtc(point);
        CommandException refusal = Assert.Throws<CommandException>(() => site.Open(overwrites: false, 1 << 20));
        Assert.Contains("another file system than before", refusal.Message, StringComparison.Ordinal);
        Assert.Equal(before, Directory.GetLastWriteTimeUtc(point)); // not even a name was made and taken away
    }

    public void Dispose()
    {
        File.Delete(_node);
        _directory.Delete(recursive: true);
    }

    /// <summary>On a thread of its own: the pool's may all be taken by other tests for longer than the moments this one is about.</summary>
    private static Task<T> OnItsOwn<T>(Func<T> work) => Task.Factory.StartNew(work, CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default);

    private MeasureRun Prepare(string target) => MeasureRun.Prepare(Request(target), PlanReader.Parse(Plan, "quick"), Machine, Folder);

    private RunSite Find(string target) => RunSite.Find(Request(target), Machine, Folder);

    private static RunRequest Request(string target) => new()
    {
        Target = target,
        AllowFixedDisk = true,
        EraseIdentity = new TargetResolver(Machine).Resolve(target).Target!.DiskName is { } disk ? CardSighting.Take(Machine, disk)!.Identity.Text : null,
    };

    /// <summary>What a collector gives out that was told of the medium that is in now.</summary>
    private static V1.ScheduleEntry Consented(LoopDevice reader)
    {
        CardSighting card = CardSighting.Take(Machine, reader.Name)!;
        var boot = Guid.Parse(File.ReadAllText("/proc/sys/kernel/random/boot_id").Trim());
        return new V1.ScheduleEntry
        {
            ScheduleId = "s", Target = reader.Node, PlanName = "quick", PlanText = Plan, AllowFixedDisk = true, EraseIdentity = card.Identity.Text,
            Medium = new V1.Medium
            {
                Board = "bench-1", DiskName = reader.Name, Identity = card.Identity.Text, DiskSequence = card.DiskSequence!.Value,
                BootId = Google.Protobuf.ByteString.CopyFrom(boot.ToByteArray(bigEndian: true)),
            },
        };
    }

    /// <summary>Puts a card into a reader as soon as the kernel lets go of the one before.</summary>
    private static void Put(LoopDevice reader, string image)
    {
        Shell.Try("losetup", "-d", reader.Node);
        Assert.True(SpinWait.SpinUntil(() => Shell.Try("losetup", reader.Node, image).Code == 0, TimeSpan.FromMinutes(1)), "the kernel did not let go of the device");
    }

    /// <summary>As whoever puts another card in: the name stays, what it leads to is replaced in one step.</summary>
    private void MakeNode(LoopDevice device)
    {
        MakeNew(device);
        PutInPlace();
    }

    private void MakeNew(LoopDevice device)
    {
        string number = File.ReadAllText($"/sys/block/{device.Name}/dev").Trim();
        Shell.Run("mknod", _node + "-new", "b", number.Split(':')[0], number.Split(':')[1]);
    }

    private void PutInPlace() => File.Move(_node + "-new", _node, overwrite: true);

    private static string Fill(LoopDevice device)
    {
        File.WriteAllBytes(device.Node, RandomNumberGenerator.GetBytes((int)Bytes));
        Shell.Run("sync", device.Node);
        return Content(device);
    }

    private static string Content(LoopDevice device)
    {
        using FileStream file = File.OpenRead(device.Image);
        return Convert.ToHexString(SHA256.HashData(file));
    }
}
