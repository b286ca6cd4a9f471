using Cardassay.Trust;

namespace Cardassay.SharedCore.Tests.Trust;

public sealed class InvitationTests
{
    private static readonly byte[] Pin = [.. Enumerable.Range(0, 32).Select(i => (byte)(i * 7))];
    private static readonly byte[] Code = [.. Enumerable.Range(0, 16).Select(i => (byte)(255 - i))];

    [Theory]
    [InlineData("bench.local:7420", "bench.local", 7420)]
    [InlineData("192.0.2.4:1", "192.0.2.4", 1)]
    [InlineData("[2001:db8::1]:65535", "2001:db8::1", 65535)]
    public void Parse_OfALine_GivesWhatWentIn(string text, string host, int port)
    {
        Assert.True(CollectorAddress.TryParse(text, out CollectorAddress? address));
        Assert.Equal((host, port, text), (address.Host, address.Port, address.ToString()));
        string line = new Invitation(address, Pin, Code).ToLine();
        Assert.Matches("^[A-Za-z0-9:/._\\[\\]-]+$", line); // nothing a shell or a chat would touch
        Invitation back = Invitation.Parse($"  {line}\n");
        Assert.Equal(address, back.Address);
        Assert.Equal(Pin, back.Pin);
        Assert.Equal(Code, back.Code);
    }

    [Theory]
    [InlineData("")]
    [InlineData("bench")]
    [InlineData("bench:")]
    [InlineData(":7420")]
    [InlineData("bench:0")]
    [InlineData("bench:65536")]
    [InlineData("bench:+1")]
    [InlineData("2001:db8::1:7420:")]
    [InlineData("::1:7420")]
    [InlineData("[fe80::1%eth0]:7420")]
    [InlineData("user@bench:7420")]
    [InlineData("[bench]:7420")]
    public void Address_ThatIsNone_IsRefused(string text) => Assert.False(CollectorAddress.TryParse(text, out _));

    [Theory]
    [InlineData("cardassay-agent join {0}")]
    [InlineData("  cardassay-agent join {0}\r\n")]
    [InlineData("root@bench:~# sudo -u cardassay-agent cardassay-agent join {0} --again")]
    public void Parse_TheWholeCommandAsItIsPasted_FindsTheInvitation(string pasted)
    {
        string line = Line();
        Assert.Equal(Invitation.Parse(line).Code, Invitation.Parse(pasted.Replace("{0}", line, StringComparison.Ordinal)).Code);
    }

    [Theory]
    [InlineData("cardassay-agent join", "not an invitation")] // the program's name is no version
    [InlineData("cardassay-collector invite bench-1", "not an invitation")]
    [InlineData("cardassay-agent join cardassay-2/bench:7420/a/b/c", "another version")]
    public void Parse_CommandWithoutAnInvitationOfThisVersion_SaysWhichOfTheTwo(string pasted, string says) =>
        Assert.Contains(says, Assert.Throws<InvitationException>(() => Invitation.Parse(pasted)).Message, StringComparison.Ordinal);

    [Fact]
    public void Parse_EveryPrefixAndEveryCharacterChanged_IsRefusedWithoutShowingTheCode()
    {
        string line = Line();
        string code = line.Split('/')[3];
        for (int i = 0; i < line.Length; i++)
        {
            foreach (string damaged in (string[])[line[..i], line[..i] + (line[i] == 'A' ? 'B' : 'A') + line[(i + 1)..]])
            {
                InvitationException e = Assert.Throws<InvitationException>(() => Invitation.Parse(damaged));
                Assert.DoesNotContain(code, e.Message, StringComparison.Ordinal);
                Assert.EndsWith(".", e.Message, StringComparison.Ordinal);
            }
        }
    }

    [Fact]
    public void Parse_AnyText_ThrowsNothingElse()
    {
        const int seed = 20;
        var random = new Random(seed);
        string line = Line();
        for (int i = 0; i < 20_000; i++)
        {
            char[] text = line.ToCharArray();
            for (int k = random.Next(1, 6); k > 0; k--)
            {
                text[random.Next(text.Length)] = (char)random.Next(0x250);
            }

            string damaged = new string(text)[random.Next(3)..] + new string('/', random.Next(3));
            try
            {
                _ = Invitation.Parse(damaged);
                Assert.True(damaged.Trim() == line, $"seed {seed}, round {i}");
            }
            catch (InvitationException)
            {
                // As it should be.
            }
        }
    }

    [Fact]
    public void ToString_NeverShowsTheCode()
    {
        var invitation = Invitation.Parse(Line());
        Assert.DoesNotContain(Line().Split('/')[3], invitation.ToString(), StringComparison.Ordinal);
    }

    private static string Line() =>
        CollectorAddress.TryParse("bench:7420", out CollectorAddress? address) ? new Invitation(address, Pin, Code).ToLine() : throw new InvalidOperationException();
}
